"""Where a dot comes from, and which area prints."""

from __future__ import annotations

import pytest
from bench import SOUND, holding, judged, only, typed

from gatekeeper.verdict import Outcome

TINT = "tints: [{nominal: 50, tolerance: 2.0}]"
RULE = "tints.50.tolerance"


def sheet(row, solid="2.90", **changes):
    return typed(rows=["clear,,0.00", f"solid,,{solid}", row], **changes)


@pytest.mark.parametrize(
    ("source", "row", "outcome", "measured"),
    [
        ("either", "tint,50,,51.0", Outcome.PASS, 51.0),
        ("either", "tint,50,0.30,", Outcome.PASS, 50.056),
        ("either", "tint,50,0.30,51.0", Outcome.PASS, 51.0),
        ("either", "tint,50,0.36,51.0", Outcome.HOLD, 43.580),
        ("either", "tint,50,0.30,53.0", Outcome.HOLD, 53.0),
        ("densities", "tint,50,0.30,53.0", Outcome.PASS, 50.056),
        ("densities", "tint,50,,51.0", Outcome.NOT_JUDGED, None),
        ("meter", "tint,50,0.36,51.0", Outcome.PASS, 51.0),
        ("meter", "tint,50,0.30,", Outcome.NOT_JUDGED, None),
        ("meter", "tint,50,0.30,>51.0", Outcome.NOT_JUDGED, None),
        ("either", "tint,50,0.30,<51.0", Outcome.NOT_JUDGED, None),
    ],
)
def test_dot_is_taken_from_where_the_workflow_says(source, row, outcome, measured):
    verdict = judged(sheet(row), rules=f"dot_from: {source}\n{TINT}")
    found = only(verdict, RULE)
    assert found.outcome is outcome
    assert found.measured == (measured if measured is None else pytest.approx(measured, abs=1e-3))


@pytest.mark.parametrize(
    ("reading", "density", "expected"),
    [
        # Murray-Davies on a solid of 2.90: (1 - 10^-0.155) / (1 - 10^-2.9) of the film is black.
        ("negative", "0.155", 70.0),
        ("positive", "0.155", 30.0),
        ("negative", "0.523", 29.9),
        ("positive", "0.523", 70.1),
    ],
)
def test_clear_area_of_a_negative_prints_and_black_area_of_a_positive(reading, density, expected):
    rules = f"reading: {reading}\ntints: [{{nominal: 50, tolerance: 90}}]"
    found = only(judged(sheet(f"tint,50,{density},"), rules=rules), RULE)
    assert found.measured == pytest.approx(expected, abs=0.1)


def test_negative_where_a_positive_is_wanted_reads_the_other_way_round():
    rules = "reading: positive\ntints: [{nominal: 30, tolerance: 3.0}]"
    found = only(judged(sheet("tint,30,0.523,"), rules=rules), "tints.30.tolerance")
    assert found.outcome is Outcome.HOLD
    assert "too full" in found.says


def test_dot_is_computed_over_the_mean_of_the_solids():
    rows = ["clear,,0.00", "solid,,1.00", "solid,,1.20", "tint,50,0.30,"]
    found = only(judged(typed(rows=rows), rules=f"dot_from: densities\n{TINT}"), RULE)
    # On a solid of 1.10 a tint of 0.30 is 54.185 % black.
    assert found.measured == pytest.approx(45.8146, abs=1e-3)


@pytest.mark.parametrize(
    ("solid", "outcome"), [(">3.00", Outcome.PASS), (">2.99", Outcome.NOT_JUDGED)]
)
def test_solid_over_the_meters_range_serves_where_it_cannot_move_the_dot(solid, outcome):
    assert only(judged(sheet("tint,50,0.30,", solid=solid), rules=TINT), RULE).outcome is outcome


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (["clear,,0.00", "tint,50,0.30,"], "without the density of the solid"),
        (["clear,,0.00", "solid,,<3.0", "tint,50,0.30,"], "without the density of the solid"),
        (["clear,,0.00", "solid,,2.9", "solid,,<3", "tint,50,0.30,"], "density of the solid"),
        (["clear,,0.00", "solid,,0.00", "tint,50,0.30,"], "no denser than clear film"),
        (["clear,,0.00", "solid,,-0.01", "tint,50,0.30,"], "no denser than clear film"),
        (["clear,,0.00", "solid,,2.9", "tint,50,>0.30,"], "only a bound for the tint"),
        (["clear,,0.00", "solid,,2.9", "tint,25,,25.0"], "no 50 % tint"),
    ],
)
def test_dot_that_cannot_be_computed_is_not_judged_and_says_why(rows, says):
    found = only(judged(typed(rows=rows), rules=TINT), RULE)
    assert found.outcome is Outcome.NOT_JUDGED
    assert says in found.says
    assert found.do


def test_tint_without_a_known_zero_is_not_judged_by_density():
    found = only(judged(sheet("tint,50,0.30,", zeroed_on=None), rules=TINT), RULE)
    assert found.outcome is Outcome.PASS  # the clear patch reads zero
    rows = ["clear,,0.05", "solid,,2.9", "tint,50,0.30,"]
    found = only(judged(typed(rows=rows, zeroed_on=None), rules=TINT), RULE)
    assert found.outcome is Outcome.NOT_JUDGED
    assert "clear film or on air" in found.says


def test_each_tint_has_its_own_tolerance():
    rules = "tints: [{nominal: 5, tolerance: 1.0}, {nominal: 50, tolerance: 2.0}]"
    rows = [*SOUND[:4], "tint,5,,6.1", "tint,50,,51.9"]
    assert holding(judged(typed(rows=rows), rules=rules)) == ["tints.5.tolerance"]


def test_way_of_the_error_is_said():
    assert "too full" in only(judged(sheet("tint,50,,55"), rules=TINT), RULE).says
    assert "too thin" in only(judged(sheet("tint,50,,45"), rules=TINT), RULE).says
