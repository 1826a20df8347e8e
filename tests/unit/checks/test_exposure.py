"""What plate and lamp ask of the solid, and what may not be forgotten about the light."""

from __future__ import annotations

import math

import pytest
from bench import REGISTER, findings, judged, library, only, typed

from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.verdict import Outcome

DOSES = "floor_dose_mj_cm2: 10, detail_dose_mj_cm2: 1250, main_exposure_mj_cm2: 2500"
UV = REGISTER.replace("filter: visual", "filter: UV, uncertainty: 0.02")
PLAIN = "exposure: {min_margin_stops: 1.0, " + DOSES + "}"


def solids(*densities, **changes):
    return typed(rows=["clear,,0.00", *(f"solid,,{density}" for density in densities)], **changes)


def found(key, limit, *densities, in_register=UV):
    rules = f"exposure: {{{key}: {limit}, {DOSES}}}"
    return only(judged(solids(*densities), rules=rules, in_register=in_register), f"exposure.{key}")


@pytest.mark.parametrize(
    ("density", "outcome", "stops"),
    # 2500 mJ/cm2 under 3.0 is 2.5, two stops below 10; a stop is log10 2 = 0.301 of density.
    [("3.0", Outcome.PASS, 2.0), ("2.699", Outcome.PASS, 1.0), ("2.698", Outcome.HOLD, 0.9967)],
)
def test_margin_is_counted_in_stops_below_the_floors_dose(density, outcome, stops):
    finding = found("min_margin_stops", 1.0, "3.5", density)
    assert finding.measured == pytest.approx(stops, abs=1e-3)
    # 2.699 is 1.0000 stops to four digits, and a hair more.
    assert finding.outcome is outcome
    assert finding.uncertainty == pytest.approx(0.02 / math.log10(2))


def test_density_that_would_be_enough_is_said_both_ways():
    assert found("min_margin_stops", 1.0, "3.0").says.endswith("2.70 would be enough")
    held = found("min_margin_stops", 1.0, "2.4")
    assert held.says.endswith("2.70 would be needed")
    assert any("Expose no plate" in step.says for step in held.do)


@pytest.mark.parametrize(
    ("limit", "outcome"), [("3.0", Outcome.PASS), ("2.99", Outcome.PASS), ("3.01", Outcome.HOLD)]
)
def test_window_reaches_from_the_detail_to_the_floor_under_the_solid(limit, outcome):
    """10 mJ/cm2 under 3.0 is 10,000, three stops above 1250."""
    finding = found("min_window_stops", limit, "3.0")
    assert (finding.outcome, finding.measured) == (outcome, pytest.approx(3.0))


@pytest.mark.parametrize(("limit", "outcome"), [("2", Outcome.PASS), ("1.9", Outcome.HOLD)])
def test_leak_is_said_in_thousandths(limit, outcome):
    """A density of 2.699 lets 0.2 % through: ISO 5-2."""
    finding = found("max_leak_per_mille", limit, "2.69897000434", "3.5")
    assert (finding.outcome, finding.measured) == (outcome, pytest.approx(2.0))
    assert finding.uncertainty == pytest.approx(2.0 * math.log(10) * 0.02)


@pytest.mark.parametrize(
    ("key", "limit", "reading", "outcome"),
    [
        ("min_margin_stops", 1, ">3.0", Outcome.PASS),
        ("min_margin_stops", 3, ">3.0", Outcome.NOT_JUDGED),
        ("max_leak_per_mille", 1, ">3.0", Outcome.PASS),
        ("max_leak_per_mille", 0.9, ">3.0", Outcome.NOT_JUDGED),
        ("max_leak_per_mille", 0.9, "<3.0", Outcome.HOLD),
    ],
)
def test_bound_of_a_density_is_a_bound_of_what_follows_from_it(key, limit, reading, outcome):
    assert found(key, limit, reading).outcome is outcome


@pytest.mark.parametrize("key", ["min_margin_stops", "min_window_stops", "max_leak_per_mille"])
def test_solid_below_clear_film_is_not_judged(key):
    finding = found(key, 1, "-0.03")
    assert finding.outcome is Outcome.NOT_JUDGED
    assert "net_density is -0.03" in finding.says


@pytest.mark.parametrize("key", ["min_margin_stops", "min_window_stops", "max_leak_per_mille"])
def test_sheet_without_a_solid_is_not_judged(key):
    assert found(key, 1).outcome is Outcome.NOT_JUDGED


# -- the light -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("register", "light"),
    [
        (REGISTER, "visual densities, which are not UV densities"),
        (REGISTER.replace(", filter: visual", ""), "densities of unknown light"),
        ("", "densities of unknown light"),
    ],
)
def test_report_says_plainly_that_a_visual_density_is_not_a_uv_density(register, light):
    verdict = judged(solids("3.0"), rules=PLAIN, in_register=register)
    assert light in only(verdict, "exposure.min_margin_stops").says
    note = only(verdict, "exposure.light")
    assert note.outcome is Outcome.NOTE
    assert "a visual density is not a UV density" in note.says


@pytest.mark.parametrize("name", ["UV", "uv", "UV 365"])
def test_uv_densities_need_no_such_words(name):
    verdict = judged(solids("3.0"), rules=PLAIN, in_register=UV.replace("UV", name))
    assert findings(verdict, "exposure.light") == []
    assert "UV" not in only(verdict, "exposure.min_margin_stops").says


def test_meter_that_may_have_read_visually_is_not_believed_to_read_uv():
    verdict = judged(solids("3.0", filter="visual"), rules=PLAIN, in_register=UV)
    assert only(verdict, "exposure.light").says.startswith("the exposure was judged by UV, visual")


def test_rule_can_require_the_meters_filter():
    rules = PLAIN + "\nmeter: {filters: [UV]}"
    assert only(judged(solids("3.0"), rules=rules), "meter.filters").outcome is Outcome.HOLD


# -- the status line -----------------------------------------------------------------------------


def said(rules, *densities):
    status = judged(solids(*densities), rules=rules, in_register=UV).status
    return [line.says for line in status if line.subject == "exposure"]


def test_status_says_what_the_plates_data_make_of_the_weakest_solid():
    (line,) = said(PLAIN, "3.0", "3.4")
    assert line.startswith("main 2500, room for 1250 to 10000 mJ/cm2 (3.0 stops)")
    assert line.endswith(", 1 per mille comes through the weakest solid")


@pytest.mark.parametrize(
    ("rules", "densities"),
    [("", ["3.0"]), (PLAIN, []), (PLAIN, ["-0.03"]), ("exposure: {max_leak_per_mille: 2}", ["3"])],
)
def test_status_is_silent_where_there_is_nothing_to_say(rules, densities):
    assert said(rules, *densities) == []


# -- the keys ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("block", "name", "words"),
    [
        ("min_margin_stops: 1", "no-setting", "floor_dose_mj_cm2 and main_exposure_mj_cm2"),
        (
            "min_window_stops: 1, floor_dose_mj_cm2: 10",
            "no-setting",
            "says nothing without detail_dose_mj_cm2",
        ),
        ("floor_dose_mj_cm2: 1250, detail_dose_mj_cm2: 10", "doses-cross", "is above"),
        ("detail_dose_mj_cm2: 1250, main_exposure_mj_cm2: 1249", "doses-cross", "is above"),
        ("floor_dose_mj_cm2: 1250, main_exposure_mj_cm2: 1249", "doses-cross", "is above"),
        ("main_exposure_mj_cm2: 2.5", "out-of-range", "in J/cm2?"),
        ("main_exposure_mj_cm2: 25000000", "out-of-range", "a square metre?"),
        ("main_exposure_j_cm2: 2.5", "unknown-key", "main_exposure_mj_cm2"),
    ],
)
def test_plate_data_that_cannot_be_meant_are_refused(block, name, words):
    always, where_used = built_in_defaults()
    text = f"workflow: plate\nreading: negative\nexposure: {{{block}}}\n"
    found_library = Library(
        {"workflows/plate.yaml": text.encode()}, always=always, where_used=where_used
    )
    (problem,) = found_library.all_problems
    assert problem.name == name
    assert words in f"{problem.what} {problem.do}"


def test_settings_are_shown_with_their_origin_and_asked_of_nobody():
    rules = library(PLAIN).effective("plate", "")
    assert rules.limit("exposure", "floor_dose_mj_cm2").origin == "workflows/plate.yaml:3"
    asked = [requirement.rule for requirement in rules.requirements([""])]
    assert [rule for rule in asked if rule.startswith("exposure")] == ["exposure.min_margin_stops"]
