from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from gatekeeper.measures.capability import capability
from gatekeeper.measures.errors import MeasureError

READINGS = st.lists(
    st.floats(45, 55).map(lambda value: round(value, 2)), min_size=3, max_size=30
).filter(lambda values: len(set(values)) > 1)


@given(READINGS)
def test_indices_agree_with_their_definition_in_numpy(values):
    result = capability(values, lower=48, upper=52)
    sd, steps = np.std(values, ddof=1), np.abs(np.diff(values)).mean() / 1.128
    nearer = min(52 - np.mean(values), np.mean(values) - 48)
    assert result.pp == pytest.approx(4 / (6 * sd))
    assert result.ppk == pytest.approx(nearer / (3 * sd))
    assert result.cp == pytest.approx(4 / (6 * steps))
    assert result.cpk == pytest.approx(nearer / (3 * steps))


@given(READINGS)
def test_bounds_of_pp_agree_with_scipy(values):
    result = capability(values, lower=48, upper=52, confidence=0.9)
    df = len(values) - 1
    low, high = result.pp * np.sqrt(stats.chi2.ppf([0.05, 0.95], df) / df)
    assert result.pp_bounds.lower == pytest.approx(low)
    assert result.pp_bounds.upper == pytest.approx(high)


@given(READINGS)
def test_bounds_of_ppk_are_those_of_bissell(values):
    result = capability(values, lower=48, upper=52, confidence=0.9)
    n = len(values)
    reach = stats.norm.ppf(0.95) * np.sqrt(1 / (9 * n) + result.ppk**2 / (2 * (n - 1)))
    assert result.ppk_bounds.lower == pytest.approx(result.ppk - reach)
    assert result.ppk_bounds.upper == pytest.approx(result.ppk + reach)


@pytest.mark.parametrize("readings", [4, 10, 30])
def test_bounds_of_cp_are_those_of_a_chi_variable_as_variable_as_the_mean_range(readings):
    rng = np.random.default_rng(20261120)
    ranges = np.abs(np.diff(rng.normal(size=(200_000, readings)))).mean(axis=1)
    spread = ranges.std() / ranges.mean()

    def excess(df):
        # Relative spread of a chi variable with so many degrees of freedom, over the one seen.
        return stats.chi(df).std() / stats.chi(df).mean() - spread

    df = optimize.brentq(excess, 0.5, 100)
    values = [50.0, 51.0] * (readings // 2)
    result = capability(values, lower=48, upper=52, confidence=0.9)
    # Sums of squares go with the square of the mean range, by the same chi variable.
    mean_square = stats.chi(df).mean() / np.sqrt(df)
    low, high = result.cp * np.sqrt(stats.chi2.ppf([0.05, 0.95], df) / df) / mean_square
    assert result.cp_bounds.lower == pytest.approx(low, rel=0.03)
    assert result.cp_bounds.upper == pytest.approx(high, rel=0.03)


@given(READINGS)
def test_index_lies_within_its_bounds_and_more_confidence_widens_them(values):
    sure = capability(values, lower=48, upper=52, confidence=0.99)
    less = capability(values, lower=48, upper=52, confidence=0.8)
    for name in ("cpk", "pp", "ppk"):
        wide, narrow = getattr(sure, f"{name}_bounds"), getattr(less, f"{name}_bounds")
        assert wide.lower < narrow.lower < getattr(sure, name) < narrow.upper < wide.upper


@given(READINGS)
def test_distance_index_is_never_above_the_width_index(values):
    result = capability(values, lower=48, upper=52)
    assert result.ppk <= result.pp + 1e-12
    assert result.cpk <= result.cp + 1e-12


@pytest.mark.parametrize("readings", [8, 40])
@pytest.mark.parametrize("mean", [0.0, 1.0])
def test_bounds_hold_the_true_index_as_often_as_they_say(readings, mean):
    rng = np.random.default_rng(20261120)
    true = {"cp": 4 / 3, "pp": 4 / 3, "cpk": (4 - mean) / 3, "ppk": (4 - mean) / 3}
    runs = 400
    held = dict.fromkeys(true, 0)
    for values in rng.normal(mean, 1.0, (runs, readings)).tolist():
        result = capability(values, lower=-4, upper=4, confidence=0.9)
        for name, index in true.items():
            bounds = getattr(result, f"{name}_bounds")
            held[name] += bounds.lower <= index <= bounds.upper
    # 0.9 within four standard errors of the simulation, and Bissell's approximation on top.
    assert all(0.84 < count / runs < 0.96 for count in held.values()), held


def test_single_limit_has_a_distance_and_no_width():
    lower = capability([2.8, 2.9, 3.0], lower=2.7, upper=None)
    assert lower.pp is lower.cp is lower.pp_bounds is lower.cp_bounds is None
    assert lower.ppk == pytest.approx(0.2 / 0.3)
    upper = capability([2.8, 2.9, 3.0], lower=None, upper=3.2)
    assert upper.ppk == pytest.approx(1.0)


def test_mean_outside_the_limits_has_a_negative_index():
    assert capability([53, 54, 53.5], lower=48, upper=52).ppk < 0


def test_drift_spoils_what_was_done_but_not_what_could_be():
    drift = [50 + 0.2 * day + 0.1 * (-1) ** day for day in range(20)]
    result = capability(drift, lower=48, upper=56)
    assert result.cp > 3 * result.pp


@pytest.mark.parametrize("values", [[50, 50, 50], [50.1] * 7, [0.0, 0.0], [50, 50 + 1e-13]])
def test_readings_that_hardly_differ_are_refused(values):
    with pytest.raises(MeasureError, match=r"values hardly differ"):
        capability(values, lower=48, upper=52)


def test_limits_that_are_none_or_crossed_are_refused():
    with pytest.raises(MeasureError, match=r"lower and upper are both missing"):
        capability([1, 2], lower=None, upper=None)
    for upper in (48, 47):
        with pytest.raises(MeasureError, match=r"lower is 48.0 but must be below upper"):
            capability([1, 2], lower=48, upper=upper)


@given(READINGS, st.floats(0.01, 100))
def test_unit_of_the_readings_does_not_matter(values, scale):
    result = capability(values, lower=48, upper=52)
    scaled = capability([scale * v for v in values], lower=48 * scale, upper=52 * scale)
    assume(result.within_sd > 1e-9)
    for name in ("cp", "cpk", "pp", "ppk"):
        assert getattr(scaled, name) == pytest.approx(getattr(result, name), rel=1e-6, abs=1e-9)
