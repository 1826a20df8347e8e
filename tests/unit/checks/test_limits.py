"""Limits to the last digit: what just passes, what just does not, and what no digit can tell."""

from __future__ import annotations

import math

import pytest
from bench import HEAD, SOUND, findings, holding, judged, only, typed
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.checks.compare import (
    at_least,
    at_most,
    proves_at_least,
    proves_at_most,
)
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.sheet import Bound
from gatekeeper.verdict import Decision, Outcome

SOLID = "solid_density: {min: 2.70, spots: 3, spread: 0.20}"
TINT = "tints: [{nominal: 50, tolerance: 2.0}]"


def solids(*densities):
    return typed(rows=["clear,,0.00", *(f"solid,,{density}" for density in densities)])


def tint(dot, nominal=50):
    return typed(rows=[*SOUND[:4], f"tint,{nominal},,{dot}"])


@pytest.mark.parametrize(
    ("weakest", "decision"),
    [("2.70", "approved"), ("2.700", "approved"), ("2.695", "held"), ("2.6999", "held")],
)
def test_solid_passes_its_limit_and_nothing_below(weakest, decision):
    assert judged(solids("2.80", weakest, "2.75"), rules=SOLID).decision == decision


def test_weakest_spot_decides_and_is_named_with_how_far_it_is_off():
    verdict = judged(
        typed(
            rows=["clear,,0.00,left", "solid,,2.91,left", "solid,,2.6,centre", "solid,,2.9,right"],
            columns="patch,nominal,density,where",
        ),
        rules="solid_density: {min: 2.70}",
    )
    found = only(verdict, "solid_density.min")
    assert (found.measured, found.limit, found.where) == (2.6, 2.7, "centre")
    assert found.off == pytest.approx(0.1)
    assert found.origin == "workflows/plate.yaml:3"
    assert found.trace.startswith("line ")


@pytest.mark.parametrize(("spot", "holds"), [("3.20", []), ("3.205", ["solid_density.max"])])
def test_densest_spot_decides_an_upper_limit(spot, holds):
    rules = "solid_density: {min: 2.70, max: 3.20}"
    assert holding(judged(solids("2.9", spot, "3.0"), rules=rules)) == holds


@pytest.mark.parametrize(("lowest", "holds"), [("2.80", []), ("2.79", ["solid_density.spread"])])
def test_spread_is_highest_less_lowest(lowest, holds):
    assert holding(judged(solids("3.00", lowest, "2.90"), rules=SOLID)) == holds


def test_spread_of_one_spot_is_not_none_but_unknown():
    rules = "solid_density: {min: 2.70, spread: 0.20}"
    found = only(judged(solids("2.9"), rules=rules), "solid_density.spread")
    assert found.outcome is Outcome.NOT_JUDGED


def test_number_of_spots_is_asked_for():
    found = only(judged(solids("2.9", "2.9"), rules=SOLID), "solid_density.spots")
    assert (found.outcome, found.measured, found.limit) == (Outcome.HOLD, 2, 3)


@pytest.mark.parametrize(
    ("dot", "decision"),
    [("52.0", "approved"), ("48.0", "approved"), ("52.1", "held"), ("47.9", "held")],
)
def test_tint_passes_at_its_tolerance_and_not_beyond(dot, decision):
    assert judged(tint(dot), rules=TINT).decision == decision


def test_tolerance_that_binary_cannot_write_is_kept_to_the_digit():
    rules = "tints: [{nominal: 30.3, tolerance: 0.1}]"
    assert judged(tint("30.4", nominal=30.3), rules=rules).decision is Decision.APPROVED
    assert judged(tint("30.2", nominal=30.3), rules=rules).decision is Decision.APPROVED
    assert judged(tint("30.401", nominal=30.3), rules=rules).decision is Decision.HELD


@pytest.mark.parametrize(("clear", "holds"), [("0.10", []), ("0.101", ["clear_density.max"])])
def test_clear_film_passes_at_its_limit(clear, holds):
    sheet = typed(rows=["clear,,0.00", f"clear,,{clear}"])
    assert holding(judged(sheet, rules="clear_density: {max: 0.10}")) == holds


def test_film_that_is_dense_by_itself_is_judged_where_the_meter_was_zeroed_on_air():
    rules = "clear_density: {max: 0.10, base_max: 0.07}"
    foggy = typed(rows=["clear,,0.10", "clear,,0.12"], zeroed_on="air")
    found = only(judged(foggy, rules=rules), "clear_density.base_max")
    assert (found.outcome, found.measured) == (Outcome.HOLD, pytest.approx(0.11))
    good = typed(rows=["clear,,0.07"], zeroed_on="air")
    assert holding(judged(good, rules=rules)) == []
    on_clear = typed(rows=["clear,,0.00"])
    found = only(judged(on_clear, rules=rules), "clear_density.base_max")
    assert found.outcome is Outcome.NOT_JUDGED


def test_very_dense_film_is_noted():
    matte = typed(rows=["clear,,0.20"], zeroed_on="air")
    verdict = judged(matte, rules="clear_density: {max: 0.10}")
    assert verdict.decision is Decision.APPROVED
    assert only(verdict, "clear_density.base").outcome is Outcome.NOTE


# -- the zero of the meter ----------------------------------------------------------------------

solid_steps = st.lists(st.integers(260, 300), min_size=3, max_size=3)
RULES = f"""{SOLID}
clear_density: {{max: 0.10}}
dot_from: densities
{TINT}
"""


@given(
    clear=st.integers(0, 12),
    solid=solid_steps,
    half=st.integers(26, 34),
    base=st.integers(0, 60),
)
def test_film_zeroed_on_air_gets_the_verdict_of_the_same_film_zeroed_on_clear(
    clear, solid, half, base
):
    """One film read twice: densities in hundredths, so that binary cannot write most of them."""

    def sheet(over, zero):
        rows = [f"clear,,{over / 100:.2f}", f"clear,,{(over + clear) / 100:.2f}"]
        # Over air the mean of the two clear patches is subtracted: the film lies that much higher.
        shift = over + clear / 2 if zero == "air" else 0
        rows += [f"solid,,{(step + shift) / 100:.3f}" for step in solid]
        rows.append(f"tint,50,{(half + shift) / 100:.3f}")
        return typed(rows=rows, zeroed_on=zero)

    on_clear = judged(sheet(0, "clear"), rules=RULES)
    on_air = judged(sheet(base, "air"), rules=RULES)
    assert holding(on_air) == holding(on_clear)
    assert on_air.decision == on_clear.decision


def test_subtraction_that_binary_cannot_write_still_passes():
    """2.80 - 0.10 is 2.6999999999999997 in binary, and the film is exactly good enough."""
    assert 2.80 - 0.10 < 2.70
    rows = ["clear,,0.10", "solid,,2.80", "solid,,2.81", "solid,,2.82"]
    assert judged(typed(rows=rows, zeroed_on="air"), rules=SOLID).decision is Decision.APPROVED


def test_nobody_says_what_the_meter_was_zeroed_on_but_the_clear_film_reads_zero():
    rows = ["clear,,0.02", "solid,,2.9", "solid,,2.9", "solid,,2.9"]
    verdict = judged(typed(rows=rows, zeroed_on=None), rules=SOLID)
    assert verdict.decision is Decision.APPROVED
    assert any("zeroed on" in note for note in verdict.notes)


@pytest.mark.parametrize("clear", ["clear,,0.03", "clear,,-0.03", "tint,50,,50.0"])
def test_nobody_says_what_the_meter_was_zeroed_on_and_the_clear_film_does_not_show_it(clear):
    rows = [clear, "solid,,2.9", "solid,,2.9", "solid,,2.9"]
    verdict = judged(typed(rows=rows, zeroed_on=None), rules=SOLID)
    assert only(verdict, "solid_density.min").outcome is Outcome.NOT_JUDGED
    assert "zeroed on clear film or on air" in only(verdict, "solid_density.min").says


def test_one_clear_patch_that_reads_zero_does_not_speak_for_the_others():
    rows = ["clear,,0.00", "clear,,0.30", *SOUND[1:4]]
    verdict = judged(typed(rows=rows, zeroed_on=None), rules=SOLID)
    assert only(verdict, "solid_density.min").outcome is Outcome.NOT_JUDGED


def test_zeroed_on_air_without_a_clear_patch_there_is_nothing_to_subtract():
    verdict = judged(typed(rows=["solid,,4.0"] * 3, zeroed_on="air"), rules=SOLID)
    assert "no clear patch" in only(verdict, "solid_density.min").says
    assert verdict.decision is Decision.HELD


# -- bounds and numbers that are none -----------------------------------------------------------


@pytest.mark.parametrize(
    ("reading", "outcome"),
    [
        (">2.70", Outcome.PASS),
        (">4.5", Outcome.PASS),
        (">2.69", Outcome.NOT_JUDGED),
        ("<2.69", Outcome.HOLD),
        ("<2.70", Outcome.NOT_JUDGED),
    ],
)
def test_bound_proves_a_minimum_only_if_it_does(reading, outcome):
    rules = "solid_density: {min: 2.70}"
    assert only(judged(solids("2.9", reading), rules=rules), "solid_density.min").outcome is outcome


@pytest.mark.parametrize(
    ("reading", "outcome"),
    [
        ("<3.00", Outcome.PASS),
        ("<3.01", Outcome.NOT_JUDGED),
        (">3.00", Outcome.NOT_JUDGED),
        (">3.01", Outcome.HOLD),
    ],
)
def test_bound_proves_a_maximum_only_if_it_does(reading, outcome):
    found = judged(solids("2.9", reading), rules="solid_density: {min: 2.0, max: 3.0}")
    assert only(found, "solid_density.max").outcome is outcome


def test_spot_that_fails_outranks_one_that_may():
    verdict = judged(solids("2.5", ">2.4"), rules="solid_density: {min: 2.70}")
    assert only(verdict, "solid_density.min").measured == 2.5


def test_spread_needs_full_readings():
    found = only(judged(solids("2.9", "2.9", ">4.5"), rules=SOLID), "solid_density.spread")
    assert found.outcome is Outcome.NOT_JUDGED


@given(limit=st.floats(allow_nan=False), bound=st.sampled_from(Bound))
def test_no_number_never_passes(limit, bound):
    assert not at_least(math.nan, limit)
    assert not at_most(math.nan, limit)
    assert proves_at_least(math.nan, bound, limit) is not True
    assert proves_at_most(math.nan, bound, limit) is not True
    assert compare(Reading(math.nan, bound), Range(limit, limit)).holds is not True


@given(
    values=st.lists(st.floats(-1, 10) | st.just(math.nan), min_size=1, max_size=6),
    limit=st.floats(0, 5),
)
def test_worst_reading_passes_only_where_all_do(values, limit):
    compared = [compare(Reading(value), Range(limit)) for value in values]
    assert (deciding(compared).holds is True) == all(entry.holds is True for entry in compared)


@pytest.mark.parametrize("places", [0, 1, 2])
def test_reading_that_is_no_number_cannot_hide_behind_others(places):
    values = [3.0, 3.0]
    values.insert(places, math.nan)
    compared = [compare(Reading(value), Range(2.7, 4.0)) for value in values]
    assert deciding(compared).holds is False


def test_transmittance_is_read_as_the_density_that_it_is():
    columns = "patch,nominal,density,transmittance"
    rows = ["clear,,0.00,", "solid,,,0.1", "solid,,,0.2"]
    found = only(
        judged(typed(rows=rows, columns=columns), rules="solid_density: {min: 2.70}"),
        "solid_density.min",
    )
    # 0.2 % of the light is a density of 2.699, by the definition of ISO 5-2.
    assert (found.outcome, found.measured) == (Outcome.HOLD, pytest.approx(2.69897, abs=1e-5))


def test_transmittance_under_a_bound_is_a_density_above_one():
    columns = "patch,nominal,density,transmittance"
    rows = ["clear,,0.00,", "solid,,,<0.1"]
    sheet = typed(rows=rows, columns=columns)
    assert judged(sheet, rules="solid_density: {min: 3.00}").decision is Decision.APPROVED
    assert judged(sheet, rules="solid_density: {min: 3.01}").decision is Decision.HELD


@pytest.mark.parametrize("kind", ["clear", "solid"])
def test_transmittance_of_nothing_at_all_is_not_passed_over(kind):
    columns = "patch,nominal,density,transmittance"
    rows = ["clear,,0.00,", "solid,,3.0,", f"{kind},,,0"]
    rules = "solid_density: {min: 2.70}\nclear_density: {max: 0.10}"
    verdict = judged(typed(rows=rows, columns=columns), rules=rules)
    key = "min" if kind == "solid" else "max"
    assert only(verdict, f"{kind}_density.{key}").outcome is Outcome.NOT_JUDGED


# -- two of a kind ------------------------------------------------------------------------------


@pytest.mark.parametrize("rows", [("50.5", "55.0"), ("55.0", "50.5")])
def test_two_patches_of_one_nominal_are_both_judged(rows):
    sheet = typed(rows=[*SOUND[:4], *(f"tint,50,,{dot}" for dot in rows)])
    found = only(judged(sheet, rules=TINT), "tints.50.tolerance")
    assert (found.outcome, found.measured) == (Outcome.HOLD, 55.0)


def test_tint_beside_the_nominal_does_not_stand_for_it():
    found = only(judged(tint("50.0", nominal="50.0001"), rules=TINT), "tints.50.tolerance")
    assert found.outcome is Outcome.NOT_JUDGED
    assert "no 50 % tint" in found.says


def test_one_of_two_patches_without_a_dot_is_not_passed_over():
    rows = [*SOUND[:4], "tint,50,,50.0", "tint,50,>0.5,"]
    verdict = judged(typed(rows=rows), rules=TINT)
    assert only(verdict, "tints.50.tolerance").outcome is Outcome.NOT_JUDGED


def test_clear_patch_that_is_labelled_solid_fails():
    verdict = judged(solids("2.9", "0.01", "2.9"), rules=SOLID)
    assert holding(verdict) == ["solid_density.min", "solid_density.spread"]


def test_solid_patch_that_is_labelled_clear_fails_whatever_the_zero():
    rules = f"{SOLID}\nclear_density: {{max: 0.10}}"
    rows = ["clear,,0.04", "clear,,2.90", "solid,,2.9", "solid,,2.9", "solid,,2.9"]
    assert "clear_density.max" in holding(judged(typed(rows=rows), rules=rules))
    assert "clear_density.max" in holding(judged(typed(rows=rows, zeroed_on="air"), rules=rules))


def test_density_of_a_tint_cannot_be_hidden_behind_a_good_dot():
    rows = [*SOUND[:4], "tint,50,0.60,50.0"]
    found = only(judged(typed(rows=rows), rules=TINT), "tints.50.tolerance")
    assert (found.outcome, found.says) == (
        Outcome.HOLD,
        "the 50 % tint reads too thin (computed from densities)",
    )


def test_every_finding_of_a_negative_carries_its_separation():
    text = typed(separation="black")
    assert HEAD["job"] == "7"
    found = findings(judged(text, rules=f"{SOLID}\n{TINT}"), "solid_density.min")
    assert [finding.separation for finding in found] == ["black"]


@pytest.mark.parametrize(
    ("rows", "read"),
    [
        (["solid,,2.91,left", "solid,,2.88,right", "solid,,2.88, RIGHT "], 2),
        (["solid,,2.91,left", "solid,,2.88,right", "solid,,2.89,right"], 3),
        (["solid,,2.91,left", "solid,,2.88,right", "solid,,2.88,centre"], 3),
        (["solid,,2.88,", "solid,,2.88,", "solid,,2.88,"], 3),  # without places nobody can tell
    ],
)
def test_row_that_stands_twice_is_one_spot(rows, read):
    sheet = typed(rows=["clear,,0.00,left", *rows], columns="patch,nominal,density,where")
    finding = only(
        judged(sheet, rules="solid_density: {min: 2.7, spots: 3}"), "solid_density.spots"
    )
    assert finding.measured == read
    assert (finding.outcome is Outcome.PASS) == (read == 3)
    assert ("stand twice" in finding.says) == (read == 2)
