"""What the spots say together: a slope across the film, and its density range."""

from __future__ import annotations

import pytest
from bench import REGISTER, judged, only, typed
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gatekeeper.checks.places import positions
from gatekeeper.verdict import Outcome

COLUMNS = "patch,nominal,density,where"
KNOWN = REGISTER.replace("filter: visual", "filter: visual, uncertainty: 0.02")
SLOPE = "solid_density: {min: 1.0, slope_max: 0.10}"
RULE = "solid_density.slope_max"


def across(*spots, **changes):
    rows = ["clear,,0.00,", *(f"solid,,{density},{place}" for place, density in spots)]
    return typed(rows=rows, columns=COLUMNS, **changes)


def slope(*spots, rules=SLOPE, in_register=REGISTER):
    return only(judged(across(*spots), rules=rules, in_register=in_register), RULE)


# -- slope ----------------------------------------------------------------------------------------


def test_solid_that_falls_to_one_side_is_held_and_the_side_is_named():
    finding = slope(("left", 2.98), ("centre", 2.90), ("right", 2.82))
    assert (finding.outcome, finding.measured) == (Outcome.HOLD, pytest.approx(0.16))
    assert finding.off == pytest.approx(0.06)
    assert "falls from left to right" in finding.says
    assert finding.do


def test_other_side_is_named_too():
    finding = slope(("left", 2.82), ("centre", 2.90), ("right", 2.98))
    assert "falls from right to left" in finding.says


@pytest.mark.parametrize(("right", "outcome"), [(2.80, Outcome.PASS), (2.798, Outcome.HOLD)])
def test_slope_passes_at_its_limit(right, outcome):
    assert slope(("left", 2.9), ("middle", (2.9 + right) / 2), ("right", right)).outcome is outcome


def test_scatter_that_looks_like_a_slope_passes_and_is_called_scatter():
    finding = slope(("left", 2.95), ("centre", 2.70), ("right", 2.80))
    assert finding.outcome is Outcome.PASS
    assert "by chance" in finding.says
    assert finding.probability is None


def test_level_film_passes():
    finding = slope(("left", 2.90), ("centre", 2.90), ("right", 2.90))
    assert (finding.outcome, finding.measured) == (Outcome.PASS, 0.0)
    assert "level" in finding.says


def test_significance_agrees_with_a_reference_library():
    """The p value of scipy.stats.linregress decides on either side of the setting."""
    spots = list(zip((0, 100, 200, 300, 400), (2.95, 2.80, 2.93, 2.78, 2.79), strict=True))
    p_percent = 100 * stats.linregress(*zip(*spots, strict=True)).pvalue
    assert 20 < p_percent < 30
    for significance, outcome in (
        (p_percent * 1.01, Outcome.HOLD),
        (p_percent / 1.01, Outcome.PASS),
    ):
        rules = (
            "solid_density: {min: 1.0, slope_max: 0.10, "
            f"slope_significance_percent: {significance:.6f}}}"
        )
        assert slope(*spots, rules=rules).outcome is outcome


@pytest.mark.parametrize(
    "spots",
    [
        (("left", 2.9), ("right", 2.8)),
        (("left", 2.9), ("left", 2.8), ("left", 2.7)),
        (("left", 2.9), ("centre", 2.8), ("", 2.7)),
        (("left", 2.9), ("centre", 2.8), ("300 mm", 2.7)),
        (("left", 2.9), ("centre", 2.8), ("top", 2.7)),
        (("left", 2.9), ("centre", 2.8), ("right", ">2.7")),
    ],
)
def test_spots_that_cannot_be_placed_or_are_too_few_are_not_judged(spots):
    finding = slope(*spots)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert "each with its place" in finding.says


def test_slope_of_densities_over_an_unknown_zero_is_not_judged():
    sheet = across(("left", 2.9), ("centre", 2.8), ("right", 2.7), zeroed_on=None)
    sheet = sheet.replace("clear,,0.00,", "clear,,0.05,")
    assert only(judged(sheet, rules=SLOPE), RULE).outcome is Outcome.NOT_JUDGED


def test_slope_of_three_spots_is_known_as_well_as_a_difference():
    """Left to right over three even spots is the difference of the outer two: u sqrt 2."""
    finding = slope(("left", 2.98), ("centre", 2.9), ("right", 2.82), in_register=KNOWN)
    assert finding.uncertainty == pytest.approx(0.02 * 2**0.5)
    assert finding.probability == pytest.approx(0.0, abs=1e-4)


def test_guarded_slope_is_held_nearer():
    rules = "decision: {rule: guarded}\n" + SLOPE
    spots = (("left", 2.94), ("centre", 2.90), ("right", 2.86))
    assert slope(*spots, in_register=KNOWN).outcome is Outcome.PASS
    assert slope(*spots, rules=rules, in_register=KNOWN).outcome is Outcome.HOLD


@given(st.lists(st.floats(2.0, 4.0), min_size=3, max_size=8))
def test_turning_the_film_end_for_end_changes_nothing_but_the_side(densities):
    last = len(densities) - 1
    there = slope(*((10 * place, round(value, 3)) for place, value in enumerate(densities)))
    back = slope(*((10 * (last - place), round(value, 3)) for place, value in enumerate(densities)))
    assert there.outcome is back.outcome
    assert there.measured == pytest.approx(back.measured, abs=1e-9)


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        (["left", "Centre", "RIGHT"], [0, 0.5, 1]),
        (["left", "center", "middle"], [0, 0.5, 0.5]),
        (["0", "120", "300"], [0, 120, 300]),
        (["0 mm", "12 cm", "12,5 mm"], [0, 120, 12.5]),
        (["1 in", '2"', "0mm"], [25.4, 50.8, 0]),
        (["0", "120 mm"], None),
        (["left", "120"], None),
        (["left", ""], None),
        (["-5", "5"], None),
        (["1e3"], None),
        ([], None),
    ],
)
def test_places_are_words_or_distances_and_never_both(places, expected):
    assert positions(places) == expected


# -- range ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rows", "outcome", "measured"),
    [
        (["clear,,0.04", "clear,,0.06", "solid,,2.91", "solid,,2.66"], Outcome.PASS, 2.60),
        (["clear,,0.04", "clear,,0.07", "solid,,2.91", "solid,,2.66"], Outcome.HOLD, 2.59),
        (["clear,,0.00", "solid,,>3.0"], Outcome.PASS, 3.0),
        (["clear,,0.00", "solid,,>2.0"], Outcome.NOT_JUDGED, 2.0),
        (["clear,,<0.10", "solid,,2.8"], Outcome.PASS, 2.7),
        (["clear,,>0.10", "solid,,2.8"], Outcome.NOT_JUDGED, 2.7),
        (["clear,,>0.30", "solid,,2.8"], Outcome.HOLD, 2.5),
        (["clear,,>0.10", "solid,,>2.8"], Outcome.NOT_JUDGED, 2.7),
    ],
)
def test_range_is_the_weakest_solid_less_the_darkest_clear_film(rows, outcome, measured):
    found = only(judged(typed(rows=rows), rules="density_range: {min: 2.60}"), "density_range.min")
    assert (found.outcome, found.measured) == (outcome, pytest.approx(measured))


@pytest.mark.parametrize("zero", ["clear", "air"])
def test_range_does_not_depend_on_the_zero(zero):
    rows = ["clear,,0.20", "clear,,0.26", "solid,,2.90"]
    sheet = typed(rows=rows, zeroed_on=zero)
    found = only(judged(sheet, rules="density_range: {min: 2.60}"), "density_range.min")
    assert found.measured == pytest.approx(2.64)


@pytest.mark.parametrize("rows", [["solid,,2.9"], ["clear,,0.00"]])
def test_range_needs_both_ends(rows):
    found = only(judged(typed(rows=rows), rules="density_range: {min: 2.60}"), "density_range.min")
    assert found.outcome is Outcome.NOT_JUDGED


def test_range_is_known_as_well_as_a_difference():
    rules = "density_range: {min: 2.60}"
    sheet = typed(rows=["clear,,0.00", "solid,,2.60"])
    found = only(judged(sheet, rules=rules, in_register=KNOWN), "density_range.min")
    assert found.uncertainty == pytest.approx(0.02 * 2**0.5)
    assert found.probability == pytest.approx(0.5)
