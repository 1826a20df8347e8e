"""The demo's three weeks: a drift named before the first hold, and a curve that brings it back."""

from __future__ import annotations

from datetime import date, timedelta
from statistics import fmean

import pytest

from gatekeeper.care.meter_watch import standing_doubts
from gatekeeper.control.review import Wanted
from gatekeeper.demo.past import play_past
from gatekeeper.demo.week import build_site
from gatekeeper.room import read_book
from gatekeeper.screens.lookback import review_site

ASKED = timedelta(days=60)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return build_site(tmp_path_factory.mktemp("past") / "site")


@pytest.fixture(scope="module")
def weeks(site):
    """Every evening with what the charts showed on it."""
    return [(evening, charts(site, evening.clock)) for evening in play_past(site)]


def charts(site, clock):
    return review_site(site, read_book(site), Wanted(clock.now() - ASKED), clock)


def held(evening):
    return [
        job.job
        for job in evening.filed
        if job.decision == "held" and job.workflow == "liquid-plate"
    ]


def mid_tone(review):
    (trend,) = (
        trend
        for trend in review.trends
        if trend.series.key.quantity.kind == "tint" and trend.series.key.workflow == "liquid-plate"
    )
    return trend


def test_the_drift_is_named_days_before_the_first_hold(weeks):
    first_news = next(evening.day for evening, review in weeks if review.news)
    first_hold = next(evening.day for evening, _ in weeks if held(evening))
    assert (first_news, first_hold) == (date(2026, 11, 11), date(2026, 11, 17))
    assert all(review.news for evening, review in weeks if first_news <= evening.day <= first_hold)


def test_the_day_of_the_first_hold_lies_within_the_bounds_that_the_evenings_before_tell(weeks):
    said = {evening.day.day: mid_tone(review).prospect for evening, review in weeks}
    assert said[11].earliest.date() <= date(2026, 11, 17)
    for day in (12, 13, 16):
        assert said[day].earliest.date() <= date(2026, 11, 17) <= said[day].latest.date()


def test_nothing_but_the_drifting_mid_tone_holds_a_film(weeks):
    assert [job for evening, _ in weeks for job in held(evening)] == ["981"]
    job = next(job for evening, _ in weeks for job in evening.filed if job.job == "981")
    assert job.reason.startswith("the 50 % tint reads too full")
    films = [job for evening, _ in weeks for job in evening.filed if job.workflow == "liquid-plate"]
    last = {job.job: job.decision for job in films}
    assert set(last.values()) == {"approved"}  # it was printed again through the new curve


def test_the_curve_brings_the_mid_tone_where_its_wedge_foretold(weeks):
    (curve,) = (evening.accepted for evening, _ in weeks if evening.accepted)
    before, after = mid_tone(weeks[-1][1]).stretches
    assert after.segment.because == "new curve of 2026-11-17 for 65 lpi at 1440 dpi"
    assert before.segment.values[-1] - curve.predicted_mid_tone > 2
    assert abs(fmean(after.segment.values) - curve.predicted_mid_tone) < curve.error
    assert fmean(after.segment.values) == pytest.approx(50.0, abs=0.5)
    assert weeks[-1][1].news == ()


def test_a_failed_meter_check_lists_just_the_jobs_it_puts_in_doubt(site, weeks):
    evening, _ = weeks[-1]
    checks = {
        job.job: job.decision
        for evening, _ in weeks
        for job in evening.filed
        if job.workflow == "meter-checks"
    }
    assert checks == {
        "T-04 2026-11-18 07.40": "approved",
        "T-09 2026-11-18 11.05": "approved",
        "T-04 2026-11-23 16.20": "approved",
        "T-09 2026-11-23 16.30": "held",
    }
    (doubt,) = standing_doubts(site, read_book(site).register, evening.clock)
    assert doubt.meter == "T-09"
    # 981 was measured with it too, an hour before its last good check.
    assert [job.job for job in doubt.jobs] == ["985", "988"]
    assert all(job.approved for job in doubt.jobs)
