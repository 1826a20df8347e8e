"""The verdict as a whole: nothing is approved but what every limit in force let pass."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent / "checks"))

from bench import job_sheet, judged, library, typed

import gatekeeper.judge as judging
from gatekeeper.verdict import Decision, Finding, Outcome, Requirement, decide, unanswered

RULES = """
required: [job, printer, film lot, meter]
solid_density: {min: 2.70, max: 4.00, spots: 3, spread: 0.20}
clear_density: {max: 0.10}
tints: [{nominal: 50, tolerance: 2.0}]
film: {stocks: [matte-5mil], max_age_days: 365, max_open_days: 90}
linearization: {max_age_days: 30}
meter: {max_calibration_days: 365, filters: [visual, UV]}
screen: {ruling_lpi: {min: 20, max: 115}, resolution_dpi: [720, 1440], min_grey_levels: 100}
freshness: {max_days_after_printing: 2}
"""
APPROVED = judged(typed(), rules=RULES)
TWO = judged(
    job_sheet(typed(separation="black", separations="2"), "black.csv"),
    job_sheet(typed(separation="red"), "red.csv"),
    rules=RULES,
)
PASSED = [finding for finding in APPROVED.findings if finding.outcome is Outcome.PASS]
REQUIRED = [Requirement(finding.rule, finding.separation) for finding in PASSED]


def test_sound_negative_is_approved_and_every_limit_has_its_answer():
    assert APPROVED.decision is Decision.APPROVED
    answered = {finding.rule for finding in PASSED}
    in_force = library(RULES).effective("plate", "").limits
    asked = {limit.rule for limit in in_force if not limit.is_setting}
    assert len(asked) >= 24
    assert asked <= answered
    assert not answered & {limit.rule for limit in in_force if limit.is_setting}


@pytest.mark.parametrize("verdict", [APPROVED, TWO], ids=["one negative", "two separations"])
def test_approved_verdict_without_any_one_of_its_passing_findings_is_held(verdict):
    assert verdict.decision is Decision.APPROVED
    required = [
        Requirement(finding.rule, finding.separation)
        for finding in verdict.findings
        if finding.outcome is Outcome.PASS
    ]
    for left_out in verdict.findings:
        rest = [finding for finding in verdict.findings if finding is not left_out]
        expected = Decision.APPROVED if left_out.outcome is Outcome.NOTE else Decision.HELD
        assert decide(required, rest) is expected


def test_limit_in_force_is_asked_of_each_separation_by_itself():
    by_rule = [
        finding.separation for finding in TWO.findings if finding.rule == "tints.50.tolerance"
    ]
    assert by_rule == ["black", "red"]


@pytest.mark.parametrize("finding", PASSED, ids=lambda finding: finding.rule)
def test_limit_without_a_passing_finding_holds_the_whole_judgement(finding, monkeypatch):
    """The check forgets to answer: the verdict itself must notice."""

    def without(findings):
        return [found for found in findings if found.rule != finding.rule]

    for name in ("judge_job", "run_checks", "judge_names"):
        real = getattr(judging, name)
        monkeypatch.setattr(judging, name, lambda *given, real=real: without(real(*given)))
    assert judged(typed(), rules=RULES).decision is Decision.HELD


outcomes = st.sampled_from(Outcome)
found = st.builds(
    Finding,
    check=st.just("x"),
    rule=st.sampled_from(["x.a", "x.b", "x.c"]),
    outcome=outcomes,
    says=st.just("so"),
    separation=st.sampled_from(["", "black"]),
)
asked = st.builds(Requirement, st.sampled_from(["x.a", "x.b"]), st.sampled_from(["", "black"]))


@given(st.lists(asked, max_size=3), st.lists(found, max_size=5))
def test_one_hold_and_one_silence_never_approve(required, findings):
    decision = decide(required, findings)
    if any(finding.outcome in {Outcome.HOLD, Outcome.NOT_JUDGED} for finding in findings):
        assert decision is Decision.HELD
    if not required or unanswered(required, findings):
        assert decision is Decision.HELD


@given(st.lists(asked, min_size=1, max_size=3), st.lists(found, max_size=5), found)
def test_another_finding_never_turns_a_hold_into_an_approval_but_by_answering(
    required, findings, another
):
    before, after = decide(required, findings), decide(required, [*findings, another])
    if before is Decision.HELD and after is Decision.APPROVED:
        assert another.outcome is Outcome.PASS
        assert Requirement(another.rule, another.separation) in required


def test_nothing_asked_is_no_proof():
    assert decide([], []) is Decision.HELD


def test_equal_cases_give_equal_verdicts():
    assert judged(typed(), rules=RULES) == APPROVED


def test_note_of_the_sheet_reaches_the_verdict():
    rows = ("clear,,0.00", "solid,,2.9", "solid,,,")
    verdict = judged(typed(rows=rows))
    assert any("without a reading" in note for note in verdict.notes)
