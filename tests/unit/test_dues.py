"""What runs out, on the day that register and rules say."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from gatekeeper.register.models import CurveEntry
from gatekeeper.room import read_book
from gatekeeper.screens.alarms import dues_of
from gatekeeper.screens.dues import expiries, worth_saying
from gatekeeper.site import read_site

CONFIG = Path(__file__).parents[2] / "config"


@pytest.fixture(scope="module")
def book():
    return read_book(read_site(CONFIG))


def last_days(book):
    found = expiries(book.register, book.library)
    return {
        (entry.subject, workflow): entry.last_day for entry in found for workflow in entry.workflows
    }


def test_last_days_are_counted_from_register_and_rules(book):
    days = last_days(book)
    assert days["meter T-04", "liquid-plate"] == date(2027, 9, 1)  # calibrated 2026-09-01, 365 days
    assert days["meter T-02", "stencil"] == date(2026, 8, 20)  # a year after 2025-08-20
    # of 2026-11-10, not of the curve of October that it replaced; 30 days
    assert days["curve of P1 on matte-5mil for liquid-plate", "liquid-plate"] == date(2026, 12, 10)
    lot = "film lot M5-0317"
    assert days[lot, "liquid-plate"] == date(2027, 1, 31)  # opened 2026-11-02, 90 days
    assert days[lot, "sheet-plate"] == date(2027, 1, 1)  # which gives an open pack 60 days
    assert (lot, "stencil") not in days  # which takes no film of this stock
    # the label is earlier than the rest
    assert days["film lot M5-0260", "liquid-plate"] == date(2026, 11, 15)
    # made 2025-09-30, 365 days
    assert days["film lot M5-0211", "liquid-plate"] == date(2026, 9, 30)


def test_workflows_that_agree_on_a_day_are_said_together(book):
    found = [entry for entry in expiries(book.register, book.library) if "T-02" in entry.subject]
    every = ("fine-silver", "liquid-plate", "sheet-plate", "stencil")
    assert [entry.workflows for entry in found] == [every]


def test_a_meter_is_not_due_in_a_workflow_that_does_not_take_its_filter(book):
    days = last_days(book)
    assert ("meter T-05", "fine-silver") in days  # blue
    assert ("meter T-05", "liquid-plate") not in days


def test_the_interval_of_its_certificate_may_end_before_the_rules_ask(book):
    meters = dict(book.register.meters)
    meters["T-04"] = meters["T-04"].model_copy(update={"interval_days": 180})
    meters["T-07"] = meters["T-07"].model_copy(update={"interval_days": 900})
    days = last_days(replace(book, register=replace(book.register, meters=meters)))
    assert days["meter T-04", "liquid-plate"] == date(2027, 2, 28)  # 2026-09-01 and 180 days
    assert days["meter T-07", "liquid-plate"] == date(2027, 6, 15)  # the rules: 365 days


def said(book, today):
    found = expiries(book.register, book.library)
    return [entry.subject for entry in worth_saying(found, today)]


def test_film_and_curves_are_said_a_week_before_and_forgotten_two_weeks_after(book):
    curve = "curve of P1 on matte-5mil for liquid-plate"
    assert curve not in said(book, date(2026, 12, 2))
    assert curve in said(book, date(2026, 12, 3))
    assert curve in said(book, date(2026, 12, 24))
    assert curve not in said(book, date(2026, 12, 25))


def test_each_setting_of_a_printer_has_a_day_of_its_own(book):
    line = {"workflow": "liquid-plate", "printer": "P1", "stock": "matte-5mil"}
    fine = CurveEntry.model_validate(
        {**line, "linearized": "2026-11-20", "ruling_lpi": "100", "resolution_dpi": "1440"}
    )
    register = replace(book.register, curves=(*book.register.curves, fine))
    days = {
        expiry.subject: expiry.last_day
        for expiry in expiries(register, book.library)
        if expiry.subject.startswith("curve")
    }
    all_others = "curve of P1 on matte-5mil for liquid-plate"
    assert days[f"{all_others}, 100 lpi at 1440 dpi"] - days[all_others] == timedelta(days=10)


def test_meters_are_said_a_month_before_and_until_they_are_calibrated(book):
    assert "meter T-04" not in said(book, date(2027, 8, 1))
    assert "meter T-04" in said(book, date(2027, 8, 2))
    assert "meter T-04" in said(book, date(2029, 1, 1))


def test_a_last_day_is_not_yet_overdue(book):
    by_subject = {due.subject: due for due in dues_of(book, date(2026, 11, 15))}
    assert not by_subject["film lot M5-0260"].is_over
    by_subject = {due.subject: due for due in dues_of(book, date(2026, 11, 16))}
    assert by_subject["film lot M5-0260"].is_over
    assert by_subject["film lot M5-0260"].day == "15 Nov"
