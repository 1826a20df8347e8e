"""Required fields, screen and dates of the sheet."""

from __future__ import annotations

import pytest
from bench import holding, judged, only, typed

from gatekeeper.rules.models import Limits
from gatekeeper.sheet import FIELDS
from gatekeeper.verdict import Decision, Outcome

SCREEN = "screen: {ruling_lpi: {min: 20, max: 115}, resolution_dpi: [720, 1440]}"


@pytest.mark.parametrize("name", FIELDS)
def test_required_field_holds_where_it_is_missing(name):
    verdict = judged(typed(**{name.replace(" ", "_"): None}), rules=f"required: [{name}]")
    rule = f"required.{name}"
    if name in {"job", "sheet"}:  # the job is known by its file, and every sheet is of some kind
        expected = Outcome.HOLD if name == "job" else Outcome.PASS
    else:
        expected = Outcome.HOLD
    assert only(verdict, rule).outcome is expected


def test_required_field_passes_where_it_is_filled_in():
    verdict = judged(typed(cleaned="yes"), rules="required: [cleaned, zeroed on, measured]")
    assert holding(verdict) == []


@pytest.mark.parametrize(
    ("ruling", "holds"),
    [
        ("20 lpi", []),
        ("115 lpi", []),
        ("19.9 lpi", ["screen.ruling_lpi.min"]),
        ("115.1 lpi", ["screen.ruling_lpi.max"]),
        ("45 l/cm", []),  # 114.3 lpi
        ("46 l/cm", ["screen.ruling_lpi.max"]),
        (None, ["screen.ruling_lpi.max", "screen.ruling_lpi.min"]),
    ],
)
def test_ruling_passes_at_its_limits(ruling, holds):
    assert sorted(holding(judged(typed(ruling=ruling), rules=SCREEN))) == holds


@pytest.mark.parametrize(
    ("resolution", "holds"),
    [
        ("720 dpi", []),
        ("600 dpi", ["screen.resolution_dpi", "screen.printer"]),
        (None, ["screen.resolution_dpi"]),
    ],
)
def test_resolution_is_one_of_the_workflows_and_of_the_printers(resolution, holds):
    assert holding(judged(typed(resolution=resolution), rules=SCREEN)) == holds


@pytest.mark.parametrize(
    ("resolution", "ruling", "outcome"),
    [
        ("720 dpi", "72 lpi", Outcome.PASS),  # (720 / 72)^2 + 1 = 101
        ("720 dpi", "72.5 lpi", Outcome.HOLD),
        ("60 dpi", "72 lpi", Outcome.NOT_JUDGED),
        (None, "72 lpi", Outcome.NOT_JUDGED),
        ("720 dpi", None, Outcome.NOT_JUDGED),
    ],
)
def test_tone_steps_follow_from_resolution_and_ruling(resolution, ruling, outcome):
    sheet = typed(resolution=resolution, ruling=ruling, printer=None)
    verdict = judged(sheet, rules="screen: {min_grey_levels: 101}")
    assert only(verdict, "screen.min_grey_levels").outcome is outcome


@pytest.mark.parametrize(
    ("changes", "holds"),
    [
        ({"measured": "2026-11-20 10:17"}, []),
        ({"measured": "2026-11-20 10:18"}, ["freshness.clock_tolerance_minutes"]),
        ({"measured": "2062-11-20 10:05"}, ["freshness.clock_tolerance_minutes"]),
        (
            {"printed": "2026-11-21", "measured": None},
            ["freshness.clock_tolerance_minutes"],
        ),
        ({"printed": None, "measured": None}, []),
        ({"measured": "2026-11-20 09:39"}, ["freshness.order"]),
        ({"measured": "2026-11-20 09:40"}, []),
        ({"measured": "2026-11-20"}, []),  # a bare date is the whole day
        ({"measured": "2026-11-19"}, ["freshness.order"]),
        ({"measured": "2026-11-20 08:50:00Z"}, []),  # 09:50 here
        ({"measured": "2026-11-20 08:30:00Z"}, ["freshness.order"]),
    ],
)
def test_dates_agree_with_each_other_and_with_the_clock(changes, holds):
    assert holding(judged(typed(**changes))) == holds


@pytest.mark.parametrize(
    ("measured", "outcome"),
    [
        ("2026-11-20 09:40", Outcome.PASS),
        ("2026-11-22 09:40", Outcome.PASS),
        ("2026-11-22 09:41", Outcome.HOLD),
        ("2026-11-20", Outcome.PASS),
        (None, Outcome.NOT_JUDGED),
    ],
)
def test_time_since_printing_is_judged_in_days(measured, outcome):
    rules = "freshness: {max_days_after_printing: 2, clock_tolerance_minutes: 99999}"
    found = only(judged(typed(measured=measured), rules=rules), "freshness.max_days_after_printing")
    assert found.outcome is outcome


def test_workflow_that_asks_for_nothing_still_asks_for_sane_dates():
    assert judged(typed()).decision is Decision.APPROVED
    assert "freshness" in Limits.model_fields
