from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.robust_line import MOST_READINGS, robust_line

# Whole days, so that times repeat; dots to a tenth, as meters show them, so that values do too.
READINGS = st.lists(
    st.tuples(st.integers(0, 30), st.integers(480, 520)), min_size=5, max_size=25
).filter(lambda pairs: len({day for day, _ in pairs}) > 2)


def split(pairs):
    return [float(day) for day, _ in pairs], [dot / 10 for _, dot in pairs]


@given(READINGS)
def test_slope_agrees_with_scipy(pairs):
    times, values = split(pairs)
    with warnings.catch_warnings():
        # Where nearly all values are alike SciPy has no bounds for the slope, and warns.
        warnings.simplefilter("ignore", RuntimeWarning)
        expected = theilslopes(values, times).slope
    assert robust_line(times, values).slope == pytest.approx(expected)


@given(st.lists(st.floats(40, 60), min_size=5, max_size=25, unique=True), st.data())
def test_bounds_of_the_slope_agree_with_scipy(values, data):
    # Where values repeat SciPy narrows the bounds for them as well, so here they do not.
    days = data.draw(st.lists(st.integers(0, 5), min_size=len(values), max_size=len(values)))
    days[:3] = [0, 1, 2]
    line = robust_line(days, values, confidence=0.9)
    expected = theilslopes(values, days, alpha=0.9)
    assert line.slope_lower == pytest.approx(expected.low_slope)
    assert line.slope_upper == pytest.approx(expected.high_slope)


@given(READINGS, st.randoms())
def test_order_of_the_readings_does_not_matter(pairs, shuffling):
    mixed = list(pairs)
    shuffling.shuffle(mixed)
    line, other = robust_line(*split(pairs)), robust_line(*split(mixed))
    assert other.slope == pytest.approx(line.slope, abs=1e-12)
    assert other.level == pytest.approx(line.level)
    assert other.scale == pytest.approx(line.scale)


@given(READINGS, st.floats(-2, 2), st.floats(-10, 10))
def test_drift_that_is_added_comes_back_in_the_slope(pairs, drift, lift):
    times, values = split(pairs)
    line = robust_line(times, values)
    moved = robust_line(times, [y + drift * t + lift for t, y in zip(times, values, strict=True)])
    assert moved.slope == pytest.approx(line.slope + drift, abs=1e-9)
    assert moved.at(17) == pytest.approx(line.at(17) + drift * 17 + lift, abs=1e-7)
    assert moved.scale == pytest.approx(line.scale, abs=1e-6)


def test_straight_readings_have_no_scale_and_wild_ones_do_not_turn_the_line():
    times = list(range(20))
    values = [50 + 0.1 * time for time in times]
    assert robust_line(times, values).scale == pytest.approx(0.0, abs=1e-12)
    for wild in (3, 9, 15, 18):
        values[wild] = 90.0
    line = robust_line(times, values)
    assert line.slope == pytest.approx(0.1, abs=0.02)
    assert line.at(10) == pytest.approx(51.0, abs=0.3)


def test_scale_is_that_of_the_scatter():
    rng = np.random.default_rng(20261120)
    scales = [
        robust_line(range(40), (50 + rng.normal(0, 0.4, 40)).tolist()).scale for _ in range(200)
    ]
    # sqrt(pi/3) standard deviations, and a little more with so few readings.
    assert np.mean(scales) == pytest.approx(0.4 * np.sqrt(np.pi / 3), rel=0.08)


def test_last_time_is_the_latest_and_not_the_last_in_the_list():
    assert robust_line([4, 3, 2, 1, 0], [1, 2, 3, 4, 5]).last_time == 4


@pytest.mark.parametrize(
    ("times", "message"),
    [
        ([0, 1, 2, 3], r"times needs at least 5 numbers but has 4"),
        ([0, 0, 1, 1, 1], r"times has 2 different entries but needs at least 3"),
        (range(MOST_READINGS + 1), r"times has 2001 entries; take the latest 2000"),
        ([0, 5e-324, 1, 2, 3], r"times are too near each other"),
    ],
)
def test_times_that_carry_no_line_are_refused(times, message):
    with pytest.raises(MeasureError, match=message):
        robust_line(times, [float(number) for number in range(len(times))])


def test_readings_without_a_time_are_refused():
    with pytest.raises(MeasureError, match=r"values has 4 numbers but times has 5"):
        robust_line([0, 1, 2, 3, 4], [1, 2, 3, 4])
