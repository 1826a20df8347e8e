"""Film, curve and meter: how old, on which day, by whose word; and whether anybody knows them."""

from __future__ import annotations

import pytest
from bench import REGISTER, findings, holding, judged, only, typed

from gatekeeper.verdict import Decision, Outcome

FILM = "film: {stocks: [matte-5mil], max_age_days: 365, max_open_days: 90}"
OPEN = "film.max_open_days"
CURVE = "linearization: {max_age_days: 30}"
METER = "meter: {max_calibration_days: 80, filters: [visual, UV]}"


@pytest.mark.parametrize(
    ("printed", "holds"),
    [("2027-01-31", []), ("2027-02-01", ["film.max_open_days"])],  # opened on 2 November
)
def test_open_pack_is_judged_on_the_day_of_printing(printed, holds):
    verdict = judged(
        typed(printed=printed, measured=None),
        rules=f"{FILM}\nfreshness: {{clock_tolerance_minutes: 999999}}",
    )
    assert holding(verdict) == holds


@pytest.mark.parametrize(
    ("printed", "days"), [("2026-11-10 00:01", 0), ("2026-11-09 23:59", -1), ("2026-11-20", 10)]
)
def test_days_are_those_of_the_calendar_in_the_sites_zone(printed, days):
    sheet = typed(printed=printed, linearized="2026-11-10", printer=None)
    found = only(judged(sheet, rules=CURVE), "linearization.max_age_days")
    assert found.measured == days
    assert (found.outcome is Outcome.HOLD) == (days < 0)


def test_moment_of_another_zone_falls_on_the_sites_own_day():
    """Half past eleven in the evening there is half past midnight here."""
    found = only(judged(typed(printed="2026-11-19 23:30:00Z"), rules=FILM), "film.max_open_days")
    assert found.measured == 18
    opened = typed(film_opened="2026-11-01 23:30:00Z")
    found = only(judged(opened, rules="film: {max_open_days: 90}", in_register=""), OPEN)
    assert found.measured == 18


def test_something_made_after_its_use_is_a_contradiction():
    sheet = typed(printed="2026-11-01 09:00", measured="2026-11-01 10:00")
    found = only(judged(sheet, rules=FILM), "film.max_open_days")
    assert found.outcome is Outcome.HOLD
    assert "one of the dates is wrong" in found.says


def test_without_a_date_of_printing_the_day_of_arrival_counts_and_is_said():
    found = only(judged(typed(printed=None), rules=FILM), "film.max_open_days")
    assert found.measured == 18
    assert "when it arrived here (the sheet gives no date)" in found.says


def test_register_outranks_the_sheet_and_the_difference_is_noted():
    sheet = typed(film_made="2024-01-01", film_opened="2025-01-01")
    verdict = judged(sheet, rules=FILM)
    assert verdict.decision is Decision.APPROVED
    assert "the sheet says 2025-01-01, the register 2026-11-02" in only(verdict, "film.opened").says
    assert only(verdict, "film.made").outcome is Outcome.NOTE


def test_sheet_that_agrees_with_the_register_is_not_noted():
    assert findings(judged(typed(film_opened="2026-11-02"), rules=FILM), "film.opened") == []


def test_sheets_dates_serve_a_room_without_a_register():
    rules = "film: {max_age_days: 365, max_open_days: 90}\n" + CURVE + "\n" + METER
    given = {
        "film_made": "2026-05-11",
        "film_opened": "2026-11-02",
        "linearized": "2026-11-10",
        "meter_calibrated": "2026-09-01",
        "filter": "visual",
    }
    verdict = judged(typed(**given), rules=rules, in_register="")
    assert verdict.decision is Decision.APPROVED
    for left_out, rule in (
        ("film_made", "film.max_age_days"),
        ("film_opened", "film.max_open_days"),
        ("linearized", "linearization.max_age_days"),
        ("meter_calibrated", "meter.max_calibration_days"),
        ("filter", "meter.filters"),
    ):
        sheet = typed(**{**given, left_out: None})
        found = only(judged(sheet, rules=rules, in_register=""), rule)
        assert found.outcome is Outcome.NOT_JUDGED
        assert "neither the register nor the sheet" in found.says or "no curve" in found.says


def test_stock_cannot_be_judged_without_a_lot_that_somebody_knows():
    assert only(judged(typed(film_lot=None), rules=FILM), "film.stocks").outcome is (
        Outcome.NOT_JUDGED
    )


def test_stock_of_another_workflow_is_held():
    found = only(judged(typed(), rules="film: {stocks: [clear-8mil]}"), "film.stocks")
    assert (found.outcome, found.measured) == (Outcome.HOLD, "matte-5mil")


@pytest.mark.parametrize(
    ("line", "rule", "near"),
    [
        ({"film_lot": "M5-0371"}, "film.known", "M5-0317"),
        ({"meter": "T-O4"}, "meter.known", "T-04"),
    ],
)
@pytest.mark.parametrize("rules", ["", f"{FILM}\n{METER}"])
def test_unknown_name_is_held_and_names_the_nearest_one_whether_a_rule_asks_or_not(
    line, rule, near, rules
):
    found = only(judged(typed(**line), rules=rules), rule)
    assert found.outcome is Outcome.HOLD
    assert near in found.says
    assert found.do


def test_unknown_printer_is_held_where_the_curve_counts():
    found = only(judged(typed(printer="P9"), rules=CURVE), "linearization.printer")
    assert (found.outcome, found.measured) == (Outcome.HOLD, "P9")


def test_names_are_compared_without_case():
    assert holding(judged(typed(film_lot="m5-0317", meter="t-04", printer="p1"), rules=FILM)) == []


@pytest.mark.parametrize(
    ("past", "printed", "holds"),
    [
        (0, "2027-05-11", []),
        (0, "2027-05-12", ["film.max_days_past_expiry"]),
        (7, "2027-05-18", []),
        (7, "2027-05-19", ["film.max_days_past_expiry"]),
    ],
)
def test_date_on_the_label_is_the_last_day_of_use(past, printed, holds):
    rules = (
        f"film: {{max_age_days: 9999, max_days_past_expiry: {past}}}\n"
        "freshness: {clock_tolerance_minutes: 999999}"
    )
    assert holding(judged(typed(printed=printed, measured=None), rules=rules)) == holds


def test_film_without_a_date_of_expiry_is_judged_by_its_age_or_not_at_all():
    register = REGISTER.replace(", expires: 2027-05-11", "")
    rule = "film.max_days_past_expiry"
    by_age = judged(typed(), rules="film: {max_age_days: 365}", in_register=register)
    assert only(by_age, rule).outcome is Outcome.PASS
    by_nothing = judged(typed(), rules="film: {max_open_days: 90}", in_register=register)
    assert only(by_nothing, rule).outcome is Outcome.NOT_JUDGED


@pytest.mark.parametrize(
    ("printed", "days"), [("2026-11-20", 10), ("2026-11-09", 28), ("2026-10-12", 0)]
)
def test_curve_is_the_one_in_use_on_the_day_of_printing(printed, days):
    earlier = "\n  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-10-12}\n"
    found = only(
        judged(typed(printed=printed), rules=CURVE, in_register=REGISTER + earlier.lstrip("\n")),
        "linearization.max_age_days",
    )
    assert found.measured == days


def test_no_curve_for_this_printer_and_film_is_not_judged():
    register = REGISTER.replace("workflow: plate", "workflow: other")
    found = only(judged(typed(), rules=CURVE, in_register=register), "linearization.max_age_days")
    assert found.outcome is Outcome.NOT_JUDGED


CURVES = """
  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-10-12, name: October}
"""
NAMED = REGISTER.replace("linearized: 2026-11-10", "linearized: 2026-11-10, name: November")


@pytest.mark.parametrize(
    ("stated", "says"),
    [
        (None, ""),
        ("november", ""),
        ("October", "which was not the curve in use"),
        ("Novembre", 'the nearest known one is "November"'),
    ],
)
def test_sheet_that_names_its_curve_names_the_one_in_use(stated, says):
    verdict = judged(typed(curve=stated), rules=CURVE, in_register=NAMED + CURVES.lstrip("\n"))
    found = findings(verdict, "linearization.curve")
    assert [finding.outcome for finding in found] == ([Outcome.HOLD] if says else [])
    assert all(says in finding.says for finding in found)


def test_room_that_gives_its_curves_no_names_cannot_ask_for_one():
    assert holding(judged(typed(curve="October"), rules=CURVE)) == []


BY_RULING = REGISTER.replace(
    "linearized: 2026-11-10", "linearized: 2026-11-10, resolution_dpi: 1440, ruling_lpi: 65"
)
FOR_ALL = """
  - {workflow: plate, printer: P1, stock: matte-5mil, linearized: 2026-11-02}
"""


def curve_line(verdict):
    (line,) = (status.says for status in verdict.status if status.subject == "curve")
    return line


def test_curve_of_the_films_own_ruling_is_named_with_it():
    verdict = judged(typed(), rules=CURVE, in_register=BY_RULING)
    assert verdict.decision is Decision.APPROVED
    assert curve_line(verdict) == "P1 on matte-5mil, 65 lpi at 1440 dpi, linearized 2026-11-10"


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"ruling": "85 lpi"}, "no curve is on record for 85 lpi at 1440 dpi"),
        ({"resolution": "720 dpi"}, "no curve is on record for 65 lpi at 720 dpi"),
        ({"ruling": None}, "the sheet does not say the ruling"),
        ({"ruling": None, "resolution": None}, "the sheet does not say the ruling and resolution"),
    ],
)
def test_film_whose_ruling_has_no_curve_is_not_judged_and_says_so(changes, says):
    verdict = judged(typed(**changes), rules=CURVE, in_register=BY_RULING)
    found = only(verdict, "linearization.max_age_days")
    assert found.outcome is Outcome.NOT_JUDGED
    assert found.says.startswith(says)
    assert "curves for 65 lpi at 1440 dpi" in found.says
    assert curve_line(verdict).startswith(says)


def test_ruling_in_lines_a_centimetre_is_the_same_ruling():
    in_lpi = BY_RULING.replace("ruling_lpi: 65", "ruling_lpi: 66")
    verdict = judged(typed(ruling="26 l/cm"), rules=CURVE, in_register=in_lpi)
    assert verdict.decision is Decision.APPROVED


def test_curve_for_all_serves_a_ruling_without_its_own_and_the_report_says_so():
    verdict = judged(
        typed(ruling="85 lpi"), rules=CURVE, in_register=BY_RULING + FOR_ALL.lstrip("\n")
    )
    assert verdict.decision is Decision.APPROVED
    assert only(verdict, "linearization.max_age_days").measured == 18
    assert curve_line(verdict).endswith("no curve of its own for 85 lpi at 1440 dpi")
    silent = judged(typed(ruling=None), rules=CURVE, in_register=BY_RULING + FOR_ALL.lstrip("\n"))
    assert curve_line(silent).endswith("no curve of its own for 1440 dpi")


def test_date_of_the_sheet_counts_for_a_ruling_that_the_register_does_not_know_and_is_noted():
    sheet = typed(ruling="85 lpi", linearized="2026-11-15")
    verdict = judged(sheet, rules=CURVE, in_register=BY_RULING)
    assert verdict.decision is Decision.APPROVED
    (note,) = findings(verdict, "linearization.setting")
    assert note.outcome is Outcome.NOTE
    assert "the sheet's own date was used" in note.says


def test_curve_of_the_register_outranks_the_sheet():
    verdict = judged(typed(linearized="2026-01-01"), rules=CURVE)
    assert verdict.decision is Decision.APPROVED
    assert only(verdict, "linearization.date").outcome is Outcome.NOTE


@pytest.mark.parametrize(
    ("measured", "holds"),
    [("2026-11-20 10:05", []), ("2026-11-21", ["meter.max_calibration_days"])],  # 80 and 81 days
)
def test_meter_is_judged_on_the_day_of_measuring(measured, holds):
    rules = f"{METER}\nfreshness: {{clock_tolerance_minutes: 9999}}"
    assert holding(judged(typed(measured=measured), rules=rules)) == holds


def test_meter_calibrated_after_it_measured_proves_nothing():
    found = only(
        judged(typed(printed=None, measured="2026-08-31"), rules=METER),
        "meter.max_calibration_days",
    )
    assert found.outcome is Outcome.HOLD


@pytest.mark.parametrize(
    ("stated", "registered", "outcome"),
    [
        (None, "visual", Outcome.PASS),
        ("VISUAL", "visual", Outcome.PASS),
        ("blue", "visual", Outcome.HOLD),
        ("visual", "blue", Outcome.HOLD),
        ("UV", "visual", Outcome.PASS),
        (None, None, Outcome.NOT_JUDGED),
        ("blue", None, Outcome.HOLD),
    ],
)
def test_both_filters_must_be_allowed_where_register_and_sheet_name_one(
    stated, registered, outcome
):
    word = f", filter: {registered}" if registered else ""
    register = REGISTER.replace(", filter: visual", word)
    verdict = judged(typed(filter=stated), rules=METER, in_register=register)
    assert only(verdict, "meter.filters").outcome is outcome


def test_two_filters_that_differ_are_noted():
    assert only(judged(typed(filter="UV"), rules=METER), "meter.filter").outcome is Outcome.NOTE


def test_status_of_meter_film_and_curve_is_said_whatever_the_rules():
    said = {line.subject: line.says for line in judged(typed(), rules="").status}
    assert said["meter"].startswith("T-04, calibrated 2026-09-01, visual filter")
    assert said["film lot"] == (
        "M5-0317: matte-5mil, made 2026-05-11, opened 2026-11-02, expires 2027-05-11"
    )
    assert said["curve"] == "P1 on matte-5mil, linearized 2026-11-10"


def test_status_gives_the_meters_uncertainty_where_the_register_knows_it():
    register = REGISTER.replace("filter: visual", "uncertainty: 0.02")
    (meter, *_) = judged(typed(), in_register=register).status
    assert meter.says == "T-04, calibrated 2026-09-01, ±0.02 density (k = 2)"


def test_status_says_what_nobody_knows():
    unknown = typed(meter="X", film_lot="Y", linearized="2026-11-01")
    said = {line.subject: line.says for line in judged(unknown, rules="").status}
    assert said == {
        "meter": "X, not in the register",
        "film lot": "Y, not in the register",
        "curve": "linearized 2026-11-01 (sheet)",
    }
    nothing = typed(meter=None, film_lot=None)
    said = {line.subject: line.says for line in judged(nothing, rules="").status}
    assert said == {"meter": "not given", "film lot": "not given", "curve": "none on record"}
