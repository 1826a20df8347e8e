"""The gate keeps what standards and buyers of film ask, at their own limits.

The requirements lie in data/film_requirements.yaml, each with its source; the whole way from rules
and a typed sheet to the decision is taken.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import yaml

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "unit" / "checks"))

from bench import REGISTER, holding, judged, only, typed  # noqa: E402 -- no package is above it

DOCUMENT = yaml.safe_load((HERE / "data" / "film_requirements.yaml").read_text(encoding="utf-8"))
REQUIREMENTS = DOCUMENT["requirements"]
ODDS = DOCUMENT["odds"]
KNOWN = {"opened", "opened (transcription)", "from memory", "common practice"}
IN_REGISTER = REGISTER.replace("filter: visual", "filter: visual, uncertainty: 0.02")


def held_by(requirement, rows):
    sheet = typed(rows=rows, zeroed_on=requirement["zeroed_on"])
    return holding(judged(sheet, rules=requirement["rules"], in_register=IN_REGISTER))


@pytest.mark.parametrize("requirement", REQUIREMENTS, ids=lambda requirement: requirement["id"])
def test_film_on_either_side_of_a_published_requirement_is_told_apart(requirement):
    assert held_by(requirement, requirement["keeps"]) == [], requirement["source"]
    assert held_by(requirement, requirement["misses"]) == [requirement["by"]], requirement["source"]


@pytest.mark.parametrize(("distance", "probability"), ODDS["rows"])
def test_finding_states_the_published_odds(distance, probability):
    solid = f"solid,,{2.70 + 0.01 * distance:.4f},"
    sheet = typed(rows=["clear,,0.00,", solid])
    rules = "solid_density: {min: 2.70}"
    finding = only(judged(sheet, rules=rules, in_register=IN_REGISTER), "solid_density.min")
    assert finding.probability == pytest.approx(probability, **ODDS["tolerance"]), ODDS["source"]


def test_every_requirement_says_where_it_is_from():
    for entry in (*REQUIREMENTS, ODDS):
        assert len(entry["source"]) > 10
        assert entry["known"] in KNOWN
    sources = {entry["source"].split(",")[0] for entry in REQUIREMENTS}
    assert len(sources) >= 6
