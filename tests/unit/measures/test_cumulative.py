from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.cumulative import cusum, ewma

READINGS = st.lists(st.floats(40, 60), max_size=40)
GIVEN = {"target": 50.0, "sigma": 0.5}


@given(READINGS)
def test_weighted_average_with_full_weight_is_a_chart_of_single_readings(values):
    chart = ewma(values, **GIVEN, lam=1, width=3)
    assert chart.values == tuple(values)
    assert set(chart.upper) <= {51.5}
    assert set(chart.lower) <= {48.5}


@given(READINGS, st.floats(0.05, 1))
def test_limits_widen_to_their_final_place(values, lam):
    widening = ewma(values, **GIVEN, lam=lam, width=3)
    final = ewma(values, **GIVEN, lam=lam, width=3, widening=False)
    assert widening.values == final.values
    assert list(widening.upper) == sorted(widening.upper)
    assert all(at <= end for at, end in zip(widening.upper, final.upper, strict=True))
    assert set(final.signals) <= set(widening.signals)


def test_first_limit_is_that_of_one_weighted_reading():
    chart = ewma([50.0], **GIVEN, lam=0.2, width=3)
    assert chart.upper[0] - 50 == pytest.approx(3 * 0.2 * 0.5)


@given(READINGS)
def test_average_signals_just_where_it_is_beyond_a_limit(values):
    chart = ewma(values, **GIVEN, lam=0.3, width=2.5)
    entries = enumerate(zip(chart.lower, chart.values, chart.upper, strict=True))
    assert list(chart.signals) == [i for i, (low, at, high) in entries if at < low or at > high]


def test_average_signals_downwards_too():
    assert ewma([47.0], **GIVEN, lam=0.3, width=3).signals == (0,)


@given(READINGS)
def test_sums_of_the_mirror_image_change_places(values):
    chart = cusum(values, **GIVEN, k=0.5, h=5)
    mirror = cusum([100 - value for value in values], **GIVEN, k=0.5, h=5)
    assert mirror.upper == pytest.approx(chart.lower, abs=1e-9)
    assert mirror.lower == pytest.approx(chart.upper, abs=1e-9)


@given(READINGS)
def test_sums_without_allowance_that_never_reset_add_up(values):
    above = [50 + abs(value - 50) for value in values]
    chart = cusum(above, **GIVEN, k=0, h=5)
    total = 0.0
    for value, upper in zip(above, chart.upper, strict=True):
        total += value - 50
        assert upper == pytest.approx(total, abs=1e-9)
    assert set(chart.lower) <= {0.0}


@given(READINGS)
def test_sum_signals_just_where_it_is_beyond_its_limit(values):
    chart = cusum(values, **GIVEN, k=0.5, h=4)
    assert chart.limit == 2.0
    beyond = [max(pair) > 2.0 for pair in zip(chart.upper, chart.lower, strict=True)]
    assert list(chart.signals) == [i for i, signal in enumerate(beyond) if signal]


def test_shift_is_dated_from_the_last_time_its_sum_was_nothing():
    chart = cusum([50, 49, 50.2, 51, 51, 51], **GIVEN, k=0.5, h=2)
    assert chart.upper_since == (0, 0, 0, 1, 2, 3)
    assert chart.lower_since == (0, 1, 2, 0, 0, 0)
    assert chart.signals == (4, 5)


def test_chart_of_no_readings_is_empty():
    assert ewma([], **GIVEN, lam=0.3, width=3).values == ()
    assert cusum([], **GIVEN, k=0.5, h=5).upper == ()
