from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import linregress
from scipy.stats import t as t_distribution

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.regression import straight_line

READINGS = st.lists(
    st.tuples(st.integers(0, 900), st.integers(0, 400)), min_size=3, max_size=20
).map(lambda pairs: ([float(x) for x, _ in pairs], [y / 100 for _, y in pairs]))


@given(READINGS)
def test_line_agrees_with_scipy(readings):
    x, y = readings
    assume(len(set(x)) > 1)
    line = straight_line(x, y)
    expected = linregress(x, y)
    assume(line.residual_sd > 1e-9)  # on a perfect line SciPy reports its own rounding
    assert line.slope == pytest.approx(expected.slope, rel=1e-9, abs=1e-12)
    assert line.intercept == pytest.approx(expected.intercept, rel=1e-9, abs=1e-9)
    assert line.u_slope == pytest.approx(expected.stderr, rel=1e-6)
    assert line.u_intercept == pytest.approx(expected.intercept_stderr, rel=1e-6)
    assert line.p_value == pytest.approx(expected.pvalue, rel=1e-5, abs=1e-12)


@pytest.mark.parametrize("count", [3, 4, 10, 60])
@pytest.mark.parametrize("steepness", [0.0, 0.1, 1.0, 10.0, 1e3, 1e6])
def test_significance_agrees_with_scipy_far_into_the_tail(count, steepness):
    x = np.arange(float(count))
    y = steepness * x + np.random.default_rng(20261120).normal(size=count)
    # SciPy's own p value goes through 1 - r^2 and loses its digits on a steep line. So the line
    # is worked out in exact fractions, and only the tail is left to SciPy.
    slope, slope_variance = exact_slope(x, y)
    expected = 2 * t_distribution.sf(abs(slope) / math.sqrt(slope_variance), count - 2)
    line = straight_line(x, y)
    assert line.slope == pytest.approx(float(slope), rel=1e-9)
    assert line.p_value == pytest.approx(expected, rel=1e-6, abs=1e-300)


def exact_slope(x, y):
    xs, ys = [Fraction(each) for each in x], [Fraction(each) for each in y]
    x_mean, y_mean = sum(xs) / len(xs), sum(ys) / len(ys)
    squares = sum((a - x_mean) ** 2 for a in xs)
    slope = sum((a - x_mean) * (b - y_mean) for a, b in zip(xs, ys, strict=True)) / squares
    off = [b - y_mean - slope * (a - x_mean) for a, b in zip(xs, ys, strict=True)]
    return slope, sum(each**2 for each in off) / (len(xs) - 2) / squares


@given(READINGS, st.sampled_from([0.5, 2.0, -4.0, 1024.0]))
def test_unit_of_the_position_does_not_change_the_significance(readings, scale):
    x, y = readings
    assume(len(set(x)) > 1)
    line, scaled = straight_line(x, y), straight_line([scale * each for each in x], y)
    assert scaled.p_value == pytest.approx(line.p_value, rel=1e-9)
    assert scaled.slope == pytest.approx(line.slope / scale, rel=1e-12)


@given(READINGS)
def test_line_passes_through_the_middle_of_the_readings(readings):
    x, y = readings
    assume(len(set(x)) > 1)
    assert straight_line(x, y).at(float(np.mean(x))) == pytest.approx(np.mean(y), abs=1e-9)


@given(st.floats(0.01, 6.0), st.integers(3, 30))
def test_equal_readings_have_no_slope_and_no_scatter(reading, count):
    line = straight_line(list(range(count)), [reading] * count)
    assert (line.slope, line.residual_sd, line.p_value) == (0.0, 0.0, 1.0)


def test_readings_on_a_steep_line_are_no_accident():
    line = straight_line([0, 1, 2, 3], [0, 2, 4, 6])
    assert (line.slope, line.u_slope, line.p_value) == (2.0, 0.0, 0.0)


def test_scatter_is_rarely_taken_for_a_slope():
    """Five in a hundred, by the meaning of a p value: 1000 films without a slope, fixed seed."""
    films = np.random.default_rng(20261120).normal(2.9, 0.02, (1000, 5))
    called = sum(straight_line(range(5), film).p_value < 0.05 for film in films)
    assert called == pytest.approx(50, abs=21)  # three standard deviations of the count


def test_failing_head_shows_as_a_slope():
    line = straight_line([0, 150, 300, 450, 600], [2.95, 2.92, 2.88, 2.86, 2.81])
    assert line.p_value < 0.001
    assert line.degrees_of_freedom == 3


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_readings_make_no_line(count):
    with pytest.raises(MeasureError, match=f"x needs at least 3 numbers but has {count}"):
        straight_line([1.0] * count, [1.0] * count)


def test_readings_all_in_one_place_make_no_line():
    with pytest.raises(MeasureError, match=r"x is the same, or nearly so, for every reading"):
        straight_line([300.0] * 3, [2.9, 2.8, 2.7])


def test_readings_and_places_go_in_pairs():
    with pytest.raises(MeasureError, match=r"y has 4 numbers but x has 3"):
        straight_line([1.0, 2.0, 3.0], [1.0, 2.0, 3.0, 4.0])


def test_number_too_large_to_square_is_refused():
    with pytest.raises(MeasureError, match=r"y\[1\] is 1e\+200 but must be at most 1e\+150"):
        straight_line([1.0, 2.0, 3.0], [1.0, 1e200, 3.0])
