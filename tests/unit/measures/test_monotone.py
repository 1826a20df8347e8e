from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.monotone import monotone_curve, monotone_fit

READINGS = st.floats(-200, 200).map(lambda value: round(value, 3))
SERIES = st.lists(READINGS, min_size=1, max_size=30)
WEIGHED = st.lists(st.tuples(READINGS, st.floats(0.1, 50)), min_size=1, max_size=30)
POINTS = st.lists(st.tuples(st.floats(0.1, 20), READINGS), min_size=2, max_size=15).map(
    lambda steps: (np.cumsum([width for width, _ in steps]), [y for _, y in steps])
)


@given(WEIGHED)
def test_fit_agrees_with_scipy(weighed):
    values, weights = zip(*weighed, strict=True)
    expected = isotonic_regression(values, weights=weights).x
    assert monotone_fit(values, weights) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(SERIES)
def test_fit_without_weights_is_that_with_equal_ones(values):
    assert monotone_fit(values) == pytest.approx(monotone_fit(values, [3.0] * len(values)))


@given(SERIES)
def test_fit_never_falls_and_fitting_again_changes_nothing(values):
    fit = monotone_fit(values)
    assert fit == sorted(fit)
    assert monotone_fit(fit) == fit


@given(SERIES)
def test_rising_readings_come_back_unchanged(values):
    assert monotone_fit(sorted(values)) == sorted(values)


def test_smallest_fall_is_taken_out():
    assert monotone_fit([1.0, 1.0 - 2**-50]) == [1.0 - 2**-51] * 2


def test_heavy_reading_draws_the_block_to_itself():
    assert monotone_fit([3.0, 1.0], weights=[3, 1]) == [2.5, 2.5]


def test_fit_refuses_what_it_cannot_weigh():
    with pytest.raises(MeasureError, match=r"weights\[1\] is 0.0 but must be above 0"):
        monotone_fit([1, 2], [1, 0])
    with pytest.raises(MeasureError, match=r"weights has 1 numbers but values has 2"):
        monotone_fit([1, 2], [1])
    with pytest.raises(MeasureError, match=r"values needs at least 1 numbers"):
        monotone_fit([])
    with pytest.raises(MeasureError, match=r"values\[0\] is 1e\+200 but must be at most"):
        monotone_fit([1e200])


@given(POINTS)
def test_curve_agrees_with_scipy(points):
    x, y = points
    at = np.linspace(x[0], x[-1], 41)
    # The last place can round past the end.
    at = np.clip(at, x[0], x[-1])
    expected = PchipInterpolator(x, y)(at)
    assert monotone_curve(x, y)(at) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(POINTS)
def test_curve_stays_between_neighbours_and_passes_through_the_points(points):
    x, y = points
    curve = monotone_curve(x, y)
    assert curve(x).tolist() == y
    for (left, right), (low, high) in zip(pairwise(x), pairwise(y), strict=True):
        inside = curve(np.linspace(left, right, 9)[1:-1])
        assert (inside >= min(low, high) - 1e-9).all()
        assert (inside <= max(low, high) + 1e-9).all()
        assert (np.diff(inside) * np.sign(high - low) >= -1e-9).all()


def test_curve_gives_back_the_kind_it_was_asked_with():
    curve = monotone_curve([0, 50, 100], [0, 65, 100])
    assert curve(50) == 65.0
    assert curve([50]) == [65.0]
    assert isinstance(curve(np.array([50.0])), np.ndarray)
    assert curve([]) == []


def test_curve_at_a_sharp_end_keeps_the_bound_on_its_slope():
    # The parabola through the three points would start three times too steep.
    curve = monotone_curve([0, 1, 2], [0, 1, -9])
    assert curve.slopes[0] == 3.0
    assert curve.slopes == pytest.approx(
        PchipInterpolator([0, 1, 2], [0, 1, -9]).derivative()([0, 1, 2])
    )


@pytest.mark.parametrize("beyond", [-0.1, 100.1])
def test_nothing_is_extrapolated(beyond):
    with pytest.raises(MeasureError, match=r"at\[1\] is .* \(the curve ends there\)"):
        monotone_curve([0, 100], [0, 100])([50, beyond])


def test_curve_refuses_places_that_do_not_rise():
    for bad in ([0, 50, 50], [0, 60, 50]):
        with pytest.raises(MeasureError, match=r"x\[2\] is 50.0 but must rise at every step"):
            monotone_curve(bad, [0, 1, 2])
    with pytest.raises(MeasureError, match=r"x needs at least 2 numbers but has 1"):
        monotone_curve([0], [0])
    with pytest.raises(MeasureError, match=r"y has 3 numbers but x has 2"):
        monotone_curve([0, 1], [0, 1, 2])
    with pytest.raises(MeasureError, match=r"x\[1\] is so near its neighbour"):
        monotone_curve([0, 5e-324], [0, 1e99])
