"""Verdicts to show: those of the gold folders, and any that Hypothesis can think of."""

import sys
from pathlib import Path

import pytest
from hypothesis import strategies as st

from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome, Status, Step, Verdict
from gatekeeper.verdict_document import from_bytes

# The folder is no package (tests are imported by path), so its one shared module needs this.
sys.path.insert(0, str(Path(__file__).parent))

GOLD = Path(__file__).parent / "gold"

text = st.text(st.characters(), max_size=90)  # surrogates and controls too
word = st.text(max_size=8)
rule = st.sampled_from(
    ["solid_density.min", "tints.50.tolerance", "clear_density.max", "film.stocks", "tints.x", "x"]
)
unit = st.sampled_from(["density", "percent", "days", "patches", "mm", "", "furlongs"])
value = st.none() | st.floats() | text
steps = st.lists(st.builds(Step, st.integers(0, 99), text, word), max_size=3).map(tuple)
finding = st.builds(
    Finding,
    check=word,
    rule=rule | text,
    outcome=st.sampled_from(Outcome),
    says=text,
    separation=word | text,
    measured=value,
    limit=value,
    unit=unit | text,
    where=word,
    off=st.none() | st.floats(),
    uncertainty=st.none() | st.floats(),
    probability=st.none() | st.floats(),
    origin=st.just("workflows/liquid-plate.yaml:5") | text,
    trace=word,
    do=steps,
)
words = st.lists(text, max_size=2).map(tuple)


@pytest.fixture(scope="session")
def any_verdict():
    """Return a strategy: verdicts with any text and any number in any place."""
    return st.builds(
        Verdict,
        ticket=text,
        job=text,
        workflow=text,
        customer=text,
        decision=st.sampled_from(Decision),
        rules_fingerprint=text,
        arrived=text,
        program=text,
        findings=st.lists(finding, max_size=4).map(tuple),
        sheets=st.lists(
            st.builds(JudgedSheet, text, text, text, words, text, st.booleans()), max_size=2
        ).map(tuple),
        companions=words,
        status=st.lists(st.builds(Status, word, text, word), max_size=2).map(tuple),
        notes=words,
        concession=st.none() | text,
        was=st.sampled_from(["", "approved", "held"]),
        measurements=st.integers(1, 99),
    )


@pytest.fixture(scope="session")
def gold_verdict():
    """Return the verdict of a gold folder by its name."""

    def read(name):
        return from_bytes((GOLD / name / "verdict.json").read_bytes()).verdict

    return read
