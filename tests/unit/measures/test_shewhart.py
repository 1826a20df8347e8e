from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.shewhart import individuals

READINGS = st.lists(st.floats(0, 100), min_size=2, max_size=40)


@given(READINGS)
def test_limits_lie_evenly_about_the_mean(values):
    chart = individuals(values)
    assert chart.centre == pytest.approx(sum(values) / len(values))
    assert chart.upper - chart.centre == pytest.approx(chart.centre - chart.lower)
    assert chart.upper - chart.centre == pytest.approx(3 * chart.sigma)
    assert set(chart.outside) == {
        i for i, value in enumerate(values) if value > chart.upper or value < chart.lower
    }


@given(st.floats(0.01, 100), st.integers(2, 40))
def test_equal_readings_have_limits_of_no_width_and_none_is_outside(value, count):
    chart = individuals([value] * count)
    assert chart.lower == chart.centre == chart.upper == value
    assert chart.sigma == chart.range_upper == 0.0
    assert chart.outside == chart.range_outside == ()


def test_slow_drift_shows_against_the_steps():
    drift = [50 + 0.1 * day + 0.05 * (-1) ** day for day in range(30)]
    chart = individuals(drift)
    assert chart.outside[0] == 0
    assert chart.outside[-1] == 29
    assert chart.range_outside == ()


def test_single_jump_is_named_at_the_reading_that_made_it():
    chart = individuals([50, 50.1, 50, 50.1, 50, 50.1, 53, 50.1, 50, 50.1, 50, 50.1])
    assert chart.range_outside == (6, 7)
    assert chart.outside == (6,)


@given(READINGS, st.floats(0.1, 10), st.floats(-50, 50))
def test_unit_of_the_readings_does_not_matter(values, scale, shift):
    chart, other = individuals(values), individuals([scale * value + shift for value in values])
    assert other.upper == pytest.approx(scale * chart.upper + shift, abs=1e-6)
    assert other.range_upper == pytest.approx(scale * chart.range_upper, abs=1e-6)
