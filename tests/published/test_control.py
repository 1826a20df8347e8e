"""Control charts of a room as the program keeps them, against what others printed, and against a
plate room that is simulated, so that its drifts are known. Values: data/control.yaml.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.stats import binomtest

from gatekeeper.control.base_period import BasePeriod
from gatekeeper.control.prospect import CONFIDENCE
from gatekeeper.control.series import Point, Quantity, Series, SeriesKey, Setup, Tolerance
from gatekeeper.control.shares import share
from gatekeeper.control.trend import trend_of
from gatekeeper.control.watch import (
    CUSUM_ALLOWANCE,
    CUSUM_LIMIT,
    EWMA_WEIGHT,
    EWMA_WIDTH,
    Kind,
    watch,
)
from gatekeeper.measures.shewhart import IndividualsChart

DATA = yaml.safe_load((Path(__file__).parent / "data/control.yaml").read_text(encoding="utf-8"))
SHARES, RUN_LENGTHS = DATA["shares"], DATA["run_lengths"]


@pytest.mark.parametrize(("part", "whole", "lower", "upper"), SHARES["rows"])
def test_bounds_of_a_share_are_the_printed_ones(part, whole, lower, upper):
    found = share(part, whole)
    assert (found.lower, found.upper) == pytest.approx(
        (lower, upper), abs=SHARES["tolerance"]["abs"]
    )


KNOWN = BasePeriod(
    readings=0,
    set_aside=(),
    chart=IndividualsChart(
        centre=50.0,
        sigma=0.4,
        lower=48.8,
        upper=51.2,
        range_centre=0.45,
        range_upper=1.47,
        outside=(),
        range_outside=(),
    ),
)


@pytest.mark.parametrize(
    ("chart", "shift", "expected"),
    [(chart, *row) for chart in ("average", "sum") for row in RUN_LENGTHS[chart]["rows"]],
)
def test_a_watched_series_signals_after_the_published_average(chart, shift, expected):
    kind = {"average": Kind.AVERAGE, "sum": Kind.SUM}[chart]
    rng = np.random.default_rng(20261120)
    runs = 150 if expected > 100 else 1500
    lengths = [_first(kind, rng, shift, expected) for _ in range(runs)]
    reach = 4 * np.std(lengths) / np.sqrt(runs) + RUN_LENGTHS[chart]["tolerance"]["rel"] * expected
    assert np.mean(lengths) == pytest.approx(expected, abs=reach)


def test_charts_are_kept_with_the_settings_that_the_run_lengths_are_printed_for():
    assert (EWMA_WEIGHT, EWMA_WIDTH) == (0.2, 2.962)
    assert (CUSUM_ALLOWANCE, CUSUM_LIMIT) == (0.5, 5.0)


def _first(kind, rng, shift, guess):
    readings = []
    while True:
        readings += (50 + 0.4 * rng.normal(shift, 1.0, max(8, int(2 * guess)))).tolist()
        for sign in watch(readings, KNOWN).signs:
            if sign.kind is kind:
                return sign.index + 1


# -- a plate room whose drifts are known ------------------------------------------------------

START = datetime(2026, 9, 1, 6, 0, tzinfo=UTC)
DAY = timedelta(days=1)
KEY = SeriesKey("liquid-plate", "P1", "matte-5mil", Quantity("tint", 50.0))
LIMITS = Tolerance(48.0, 52.0)
SCATTER = 0.4  # points of dot from film to film
FILMS_A_DAY = 3
# Of each curve: the days that it lies still, then how many points a day it drifts.
CURVES = ((0, 0.10), (10, 0.15), (30, 0.0), (12, -0.08), (8, 0.12), (30, 0.0))


@cache
def room(seed):
    """Simulate 90 days and more, a new curve each month; return what each day's trend foretold.

    For every day with a reading behind its base period: the true day on which the level leaves its
    tolerance (None: never), the day itself, and the trend of that evening.
    """
    rng = np.random.default_rng(seed)
    evenings = []
    for number, (still, slope) in enumerate(CURVES):
        began = START + number * 30 * DAY
        crossing = None if slope == 0 else still + 2.0 / abs(slope)
        setup = Setup(str(began.date()), "M5-0317", "")
        points = []
        for day in range(30):
            if crossing is not None and day >= crossing:
                break  # somebody has printed a wedge
            for film in range(FILMS_A_DAY):
                at = day + (film + 1) / (FILMS_A_DAY + 1)
                level = 50.0 + max(0.0, at - still) * slope
                value = round(level + rng.normal(0.0, SCATTER), 1)
                points.append(Point(began + at * DAY, value, f"J{len(points)}", setup, held=False))
            series = Series(KEY, tuple(points), LIMITS)
            evenings.append((began, crossing, day + 1, trend_of(series, points[-1].when, UTC)))
    return evenings


ROOMS = range(8)


# -- many rooms, one evening each, so that what is counted is independent ---------------------

ROOMS_DRAWN = int(os.environ.get("GATEKEEPER_ROOMS", "1600"))
DRIFTS = (0.05, 0.3)  # points a day, either way, each size as likely as any other of its logarithm
SETS_IN = 15  # on any day before it; in one room of five from the first film on
SCATTERS = (0.25, 0.6)
FILMS = (2, 5)


def one_evening(rng):
    """Draw a room whose level drifts, and look at one of its evenings.

    Return the true moment at which the level leaves its tolerance, and the trend of that evening.
    """
    still = rng.uniform(0, SETS_IN) if rng.random() < 0.8 else 0.0
    slope = np.exp(rng.uniform(*np.log(DRIFTS))) * rng.choice([-1, 1])
    scatter, films = rng.uniform(*SCATTERS), int(rng.integers(FILMS[0], FILMS[1] + 1))
    crossing = still + 2.0 / abs(slope)
    at = np.add.outer(np.arange(30), (1 + np.arange(films)) / (films + 1)).ravel()
    at = at[np.floor(at) < crossing]
    values = 50.0 + np.maximum(0.0, at - still) * slope + rng.normal(0.0, scatter, at.size)
    evening = rng.integers(2, int(at[-1]) + 1) + 1
    points = tuple(
        Point(START + day * DAY, round(value, 1), "J", Setup("c", "l", ""), held=False)
        for day, value in zip(at[at < evening].tolist(), values.tolist(), strict=False)
    )
    return START + crossing * DAY, trend_of(Series(KEY, points, LIMITS), points[-1].when, UTC)


def holds(ahead, true):
    early = ahead.earliest is None or ahead.earliest <= true
    return early and (ahead.latest is None or true <= ahead.latest)


def test_foretold_bounds_hold_the_true_day_as_often_as_stated():
    rng = np.random.default_rng(20261125)
    told = [
        (trend.prospect, true)
        for true, trend in (one_evening(rng) for _ in range(ROOMS_DRAWN))
        if trend.is_news
    ]
    both = [holds(ahead, true) for ahead, true in told if ahead.latest is not None]
    assert len(both) > 250
    # Neither too narrow nor wide beyond use: what chance leaves of 95 % in all but one of a hundred
    # seeds. So many rooms tell 91 % from 95 %; ten times as many tell 93 %.
    assert binomtest(sum(both), len(both), CONFIDENCE).pvalue > 0.01
    # Bounds that are open on one side promise no less.
    every = [holds(ahead, true) for ahead, true in told]
    assert binomtest(sum(every), len(every), CONFIDENCE, alternative="less").pvalue > 0.001


def test_foretold_day_is_right_on_the_average():
    off = [
        (trend.prospect.crossing - began) / DAY - crossing
        for seed in ROOMS
        for began, crossing, _, trend in room(seed)
        if trend.is_news and crossing is not None
    ]
    assert abs(np.median(off)) < 1.5


def test_nearly_every_drift_is_told_days_before_it_leaves_its_tolerance():
    leads = []
    for seed in ROOMS:
        told = {}
        for began, crossing, day, trend in room(seed):
            if crossing is not None and crossing <= 30:
                told.setdefault(began, None)
                if trend.is_news and told[began] is None:
                    told[began] = crossing - day
        leads += [0.0 if lead is None else lead for lead in told.values()]
    assert np.mean(np.array(leads) > 1.0) > 0.9
    assert np.median(leads) > 4.0


def test_a_month_without_drift_is_seldom_told_as_one():
    quiet = [
        trend.is_news
        for seed in ROOMS
        for _, crossing, day, trend in room(seed)
        if crossing is None and day > 8
    ]
    assert np.mean(quiet) < 0.05
