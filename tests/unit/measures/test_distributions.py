from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from gatekeeper.measures.distributions import (
    chi_square_quantile,
    chi_square_tail,
    f_tail,
    probability,
    t_quantile,
    t_tail,
)
from gatekeeper.measures.errors import MeasureError

DEGREES = st.floats(0.3, 200.0)
MANY_DEGREES = st.sampled_from([1e3, 1e4, 1e5, 1e6])
PROBABILITIES = st.floats(1e-10, 1 - 1e-10)


@given(st.floats(-50, 50), DEGREES)
def test_t_tail_agrees_with_scipy(t, df):
    assert t_tail(t, df) == pytest.approx(stats.t.sf(t, df), rel=1e-10, abs=1e-300)


@given(st.floats(0, 500), DEGREES)
def test_chi_square_tail_agrees_with_scipy(x, df):
    assert chi_square_tail(x, df) == pytest.approx(stats.chi2.sf(x, df), rel=1e-10, abs=1e-300)


@given(st.floats(0, 1e4), DEGREES, DEGREES)
def test_f_tail_agrees_with_scipy(f, numerator, denominator):
    expected = stats.f.sf(f, numerator, denominator)
    assert f_tail(f, numerator, denominator) == pytest.approx(expected, rel=1e-9, abs=1e-300)


@given(PROBABILITIES, st.floats(1.0, 200.0))
def test_quantiles_agree_with_scipy(p, df):
    # Near the median SciPy's own t quantile is only as exact as p - 1/2.
    assert t_quantile(p, df) == pytest.approx(stats.t.ppf(p, df), rel=1e-8, abs=1e-12)
    assert chi_square_quantile(p, df) == pytest.approx(stats.chi2.ppf(p, df), rel=1e-9)


@given(st.floats(-10, 10), MANY_DEGREES)
def test_tails_agree_with_scipy_for_many_degrees_of_freedom(t, df):
    assert t_tail(t, df) == pytest.approx(stats.t.sf(t, df), rel=2e-8)
    x = df + t * (2 * df) ** 0.5
    assert chi_square_tail(x, df) == pytest.approx(stats.chi2.sf(x, df), rel=2e-8)


@given(PROBABILITIES, DEGREES)
def test_tail_undoes_the_quantile(p, df):
    assert chi_square_tail(chi_square_quantile(p, df), df) == pytest.approx(1 - p, rel=1e-9)
    assume(df > 1)
    assert t_tail(t_quantile(p, df), df) == pytest.approx(1 - p, rel=1e-9)


def test_square_of_t_is_an_f():
    assert f_tail(2.5**2, 1, 7) == pytest.approx(2 * t_tail(2.5, 7), rel=1e-12)


def test_ends_are_certain():
    assert t_tail(0.0, 5) == 0.5
    assert t_quantile(0.5, 5) == 0.0
    assert chi_square_tail(0.0, 5) == f_tail(0.0, 5, 5) == 1.0
    assert chi_square_tail(1e100, 5) == 0.0
    assert chi_square_tail(1e4, 1e6) == 1.0
    assert f_tail(1e100, 1e6, 1e6) == 0.0


@pytest.mark.parametrize("bad", [0.0, -1.0, 1e7])
def test_degrees_of_freedom_out_of_reach_are_refused(bad):
    for call in (t_tail, chi_square_tail):
        with pytest.raises(MeasureError, match=r"df is .* but must be"):
            call(1.0, bad)
    with pytest.raises(MeasureError, match=r"df_denominator is .* but must be"):
        f_tail(1.0, 2, bad)


@pytest.mark.parametrize("bad", [0.0, 1.0, -0.1, 95])
def test_what_is_no_probability_is_refused(bad):
    for call in (t_quantile, chi_square_quantile):
        with pytest.raises(MeasureError, match=r"p is .* but must lie between 0 and 1"):
            call(bad, 5)


def test_percent_for_a_fraction_is_pointed_out():
    with pytest.raises(MeasureError, match=r"confidence is 95.0 .*a fraction, not percent"):
        probability(95, "confidence")


def test_quantile_that_no_one_needs_is_refused_and_not_sought_for_ever():
    with pytest.raises(MeasureError, match=r"p is so near 0 or 1"):
        t_quantile(1e-300, 0.01)
