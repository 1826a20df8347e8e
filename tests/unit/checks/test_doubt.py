"""What the meter's uncertainty does to a number, to its odds and to the decision."""

from __future__ import annotations

from statistics import NormalDist

import pytest
from bench import REGISTER, SOUND, holding, judged, library, only, typed
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.checks.reading import Range, Reading, compare
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.sheet import Bound
from gatekeeper.verdict import Decision, Outcome
from gatekeeper.yamlfiles.load import load

KNOWN = REGISTER.replace("filter: visual", "filter: visual, uncertainty: 0.02")
SOLID = "solid_density: {min: 2.70, spread: 0.20}"
GUARDED = "decision: {rule: guarded}\n"
PHI = NormalDist().cdf


def solids(*densities, **changes):
    return typed(rows=["clear,,0.00", *(f"solid,,{density}" for density in densities)], **changes)


def found(rule, sheet, rules=SOLID, in_register=KNOWN):
    return only(judged(sheet, rules=rules, in_register=in_register), rule)


# -- what a number's doubt is --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weakest", "probability"), [("2.70", 0.5), ("2.72", PHI(2)), ("2.69", PHI(-1)), ("2.80", 1.0)]
)
def test_finding_says_its_uncertainty_and_the_odds_that_the_film_conforms(weakest, probability):
    """±0.02 at k = 2 is 0.01, so 2.72 lies two standard uncertainties above 2.70."""
    finding = found("solid_density.min", solids(weakest, "2.9"))
    assert finding.uncertainty == 0.02
    assert finding.probability == pytest.approx(probability)


def test_meter_whose_uncertainty_nobody_knows_gives_neither():
    finding = found("solid_density.min", solids("2.9"), "solid_density: {min: 2.7}", REGISTER)
    assert (finding.uncertainty, finding.probability) == (None, None)


def test_clear_film_that_is_subtracted_adds_its_own_doubt():
    """JCGM 100, 5.1.2: u of a difference with a mean of two is u sqrt(1 + 1/2)."""
    rows = ["clear,,0.05", "clear,,0.05", "solid,,2.95"]
    sheet = typed(rows=rows, zeroed_on="air")
    finding = found("solid_density.min", sheet, "solid_density: {min: 2.7}")
    assert finding.uncertainty == pytest.approx(0.02 * 1.5**0.5)


def test_spread_is_known_as_well_as_a_difference():
    finding = found("solid_density.spread", solids("2.80", "3.00"))
    assert finding.uncertainty == pytest.approx(0.02 * 2**0.5)
    assert finding.probability == pytest.approx(0.5)


def test_clear_patch_over_the_clearest_is_a_difference_and_over_itself_is_not():
    rules = "clear_density: {max: 0.10, base_max: 0.15}"
    on_air = typed(rows=["clear,,0.05", "clear,,0.06"], zeroed_on="air")
    assert found("clear_density.max", on_air, rules).uncertainty == pytest.approx(0.02 * 2**0.5)
    assert found("clear_density.base_max", on_air, rules).uncertainty == 0.02
    on_clear = typed(rows=["clear,,0.05"])
    assert found("clear_density.max", on_clear, rules).uncertainty == 0.02


def test_half_tint_is_known_to_no_better_than_two_points():
    """±0.02 in both densities is ±2.31 % of area at 0.30 over 2.90: JCGM 100 by Murray-Davies."""
    rules = "tints: [{nominal: 50, tolerance: 2.0}]"
    rows = ["clear,,0.00", "solid,,2.90", "tint,50,0.30,"]
    finding = found("tints.50.tolerance", typed(rows=rows), rules)
    assert finding.uncertainty == pytest.approx(2.31, abs=0.005)
    assert finding.probability == pytest.approx(0.9165, abs=5e-4)


@pytest.mark.parametrize("reading", ["negative", "positive"])
@pytest.mark.parametrize("dot", [5.0, 50.0, 95.0])
def test_meters_own_dot_is_as_doubtful_as_the_one_from_its_densities(reading, dot):
    rules = f"reading: {reading}\ntints: [{{nominal: {dot}, tolerance: 9}}]"
    own = typed(rows=["clear,,0.00", "solid,,2.90", f"tint,{dot},,{dot}"])
    finding = found(f"tints.{dot:g}.tolerance", own, rules)
    light = dot / 100 if reading == "negative" else 1 - dot / 100
    assert finding.uncertainty == pytest.approx(100 * 2.302585 * light * 0.02, rel=0.05)


def test_own_dot_has_its_doubt_without_any_solid():
    rules = "tints: [{nominal: 50, tolerance: 9}]"
    finding = found("tints.50.tolerance", typed(rows=["tint,50,,50"]), rules)
    assert finding.uncertainty == pytest.approx(2.30, abs=0.01)


def test_dot_of_nothing_has_a_doubt_and_no_error():
    rules = "tints: [{nominal: 1, tolerance: 9}]"
    for dot in ("0", "-1", "1", "101"):
        sheet = typed(rows=["clear,,0.00", "solid,,2.90", f"tint,1,,{dot}"])
        assert found("tints.1.tolerance", sheet, rules).uncertainty >= 0


# -- bounds ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reading", "allowed", "probability"),
    [
        (Reading(2.7, Bound.AT_LEAST, u=0.01), Range(lower=2.7), 0.5),
        (Reading(2.7, Bound.AT_LEAST, u=0.01), Range(upper=2.7), None),
        (Reading(2.7, Bound.AT_MOST, u=0.01), Range(upper=2.7), 0.5),
        (Reading(2.7, Bound.AT_MOST, u=0.01), Range(lower=2.7), None),
        (Reading(float("nan"), u=0.01), Range(lower=2.7), None),
    ],
)
def test_bound_has_the_odds_of_its_worse_end_or_none(reading, allowed, probability):
    assert compare(reading, allowed).probability == probability


# -- guarded decisions ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guard", "weakest", "decision"),
    [
        ("", "2.72", "approved"),
        ("", "2.719", "held"),
        (", guard: 0.83", "2.717", "approved"),
        (", guard: 0.83", "2.716", "held"),
        (", guard: 0", "2.70", "approved"),
    ],
)
def test_guarded_decision_asks_for_the_limit_and_a_part_of_the_doubt(guard, weakest, decision):
    """JCGM 106, 8.3.2: acceptance limit = 2.70 + guard times 0.02."""
    rules = f"decision: {{rule: guarded{guard}}}\nsolid_density: {{min: 2.70}}"
    assert judged(solids(weakest), rules=rules, in_register=KNOWN).decision == decision


def test_guarded_finding_shows_the_limit_it_was_compared_with_and_the_one_asked():
    finding = found("solid_density.min", solids("2.71"), GUARDED + "solid_density: {min: 2.70}")
    assert finding.outcome is Outcome.HOLD
    assert finding.limit == pytest.approx(2.72)
    assert finding.off == pytest.approx(0.01)
    assert finding.says.endswith("; limit 2.7 density, guarded by 0.02")


def test_upper_limits_are_drawn_in_the_other_way():
    rules = GUARDED + "clear_density: {max: 0.10}"
    assert holding(judged(typed(rows=["clear,,0.08"]), rules=rules, in_register=KNOWN)) == []
    finding = found("clear_density.max", typed(rows=["clear,,0.081"]), rules)
    assert (finding.outcome, finding.limit) == (Outcome.HOLD, pytest.approx(0.08))


def test_tolerance_narrower_than_the_doubt_accepts_nothing():
    rules = GUARDED + "tints: [{nominal: 50, tolerance: 2.0}]"
    finding = found("tints.50.tolerance", typed(rows=[*SOUND[:4], "tint,50,,50.0"]), rules)
    assert (finding.outcome, finding.limit) == (Outcome.HOLD, 0.0)


def test_guarded_decision_needs_a_doubt_that_somebody_knows():
    rules = GUARDED + "solid_density: {min: 2.70}"
    finding = found("solid_density.min", solids("3.5"), rules, REGISTER)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert "nobody knows how good the meter is" in finding.says
    assert finding.do[0].says.startswith("Tell the administrator")


def test_guarded_decision_without_a_meter_still_holds_what_fails_by_itself():
    rules = GUARDED + "solid_density: {min: 2.70}"
    finding = found("solid_density.min", solids("2.6", meter=None), rules)
    assert finding.outcome is Outcome.HOLD


@given(
    value=st.floats(2.5, 2.9),
    u=st.floats(0.001, 0.05),
    guard=st.floats(0, 2),
)
def test_guarded_decision_never_accepts_what_the_plain_one_does_not(value, u, guard):
    plain = compare(Reading(value, u=u), Range(lower=2.7))
    guarded = compare(Reading(value, u=u), Range(lower=2.7, guard=guard))
    assert plain.holds or not guarded.holds
    assert guarded.probability == plain.probability
    if guarded.holds and guard >= 1:
        assert guarded.probability > 0.977


def test_customer_may_ask_for_guarded_decisions():
    customer = "customer: Q\nall_workflows: {decision: {rule: guarded}}"
    sheet = solids("2.71", customer="Q")
    rules = "solid_density: {min: 2.70}"
    assert judged(sheet, rules=rules, customers=[customer], in_register=KNOWN).decision is (
        Decision.HELD
    )
    assert judged(solids("2.71"), rules=rules, in_register=KNOWN).decision is Decision.APPROVED


# -- the keys --------------------------------------------------------------------------------------


def test_plain_is_what_holds_where_nobody_says_otherwise():
    rules = library("").effective("plate", "")
    assert str(rules.limit("decision", "rule")) == "plain"
    assert rules.limit("decision", "guard").origin.startswith("defaults.yaml:")
    asked = [requirement.rule for requirement in rules.requirements([""])]
    assert "freshness.clock_tolerance_minutes" in asked
    assert not any(rule.startswith("decision") for rule in asked)


@pytest.mark.parametrize(
    ("floor", "stated", "is_looser"),
    [
        ("rule: guarded", "rule: plain", True),
        ("rule: guarded", "rule: guarded", False),
        ("rule: plain", "rule: guarded", False),
        ("guard: 1.0", "guard: 0.8", True),
        ("guard: 0.8", "guard: 1.0", False),
    ],
)
def test_no_layer_makes_the_decision_looser_than_the_floor(floor, stated, is_looser):
    always, where_used = built_in_defaults()
    workflow = f"workflow: plate\nreading: negative\ndecision: {{{stated}}}\n"
    found_library = Library(
        {"workflows/plate.yaml": workflow.encode()},
        always=always,
        where_used=where_used,
        floors=load(f"decision: {{{floor}}}\n".encode(), "site.yaml"),
    )
    names = [problem.name for problem in found_library.all_problems]
    assert names == (["looser-than-floor"] if is_looser else [])
