from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.uncertainty import (
    acceptance_limits,
    capability_index,
    combined_uncertainty,
    conformance_probability,
    en_number,
)

VALUES = st.floats(-100.0, 100.0)
DOUBTS = st.floats(1e-3, 100.0)


@given(st.floats(-37.0, 37.0))
def test_one_sided_probability_agrees_with_scipy_far_into_the_tail(z):
    above = conformance_probability(z, 1.0, lower=0.0)
    assert above == pytest.approx(norm.cdf(z), rel=1e-11, abs=0.0)
    below = conformance_probability(z, 1.0, upper=0.0)
    assert below == pytest.approx(norm.sf(z), rel=1e-11, abs=0.0)


@given(st.floats(5.0, 30.0), st.floats(0.1, 2.0))
def test_interval_far_out_keeps_its_digits(z, width):
    # Two tails apart by more than rounding: SciPy's, from the side where they are small.
    expected = norm.sf(z) - norm.sf(z + width)
    beyond = conformance_probability(0.0, 1.0, lower=z, upper=z + width)
    short = conformance_probability(0.0, 1.0, lower=-z - width, upper=-z)
    assert beyond == pytest.approx(expected, rel=1e-10, abs=0.0)
    assert short == beyond


def test_hopeless_reading_has_a_probability_and_not_zero():
    assert conformance_probability(0.0, 1.0, lower=15.0) == pytest.approx(3.671e-51, rel=1e-3)


@given(VALUES, DOUBTS, VALUES)
def test_passing_one_side_or_the_other_is_certain(value, u, limit):
    above = conformance_probability(value, u, lower=limit)
    below = conformance_probability(value, u, upper=limit)
    assert above + below == pytest.approx(1.0, abs=1e-15)


@given(VALUES, DOUBTS, VALUES, VALUES)
def test_two_limits_leave_what_neither_side_takes(value, u, one, other):
    low, high = sorted([one, other])
    inside = conformance_probability(value, u, low, high)
    under = conformance_probability(value, u, upper=low)
    over = conformance_probability(value, u, lower=high)
    assert 0.0 <= inside <= 1.0
    assert inside + under + over == pytest.approx(1.0, abs=1e-12)


@given(VALUES, VALUES, DOUBTS, VALUES)
def test_higher_reading_conforms_to_a_lower_limit_more_surely(one, other, u, limit):
    weak, strong = sorted([one, other])
    sure = conformance_probability([weak, strong], u, lower=limit)
    assert sure[0] <= sure[1]


@given(VALUES, DOUBTS, st.floats(0.01, 50.0))
def test_wider_limits_never_make_it_less_likely(value, u, more):
    narrow = conformance_probability(value, u, -10.0, 10.0)
    wide = conformance_probability(value, u, -10.0 - more, 10.0 + more)
    assert wide >= narrow - 1e-15


@given(VALUES, DOUBTS)
def test_probability_is_the_same_in_another_unit(value, u):
    points = conformance_probability(value, u, -2.0, 2.0)
    fractions = conformance_probability(value / 128, u / 128, -2.0 / 128, 2.0 / 128)
    assert fractions == points


def test_perfect_meter_leaves_no_doubt_and_counts_the_limit_as_inside():
    answers = conformance_probability([2.69, 2.70, 4.0, 4.01], 0.0, 2.70, 4.0)
    assert answers == [0.0, 1.0, 1.0, 0.0]


def test_meter_far_too_good_to_divide_by_still_gives_an_answer():
    assert conformance_probability([2.6, 2.7, 2.8], 5e-324, lower=2.7) == [0.0, 0.5, 1.0]


@pytest.mark.parametrize(
    ("function", "rest"),
    [(conformance_probability, {"value": 1.0, "u": 0.1}), (acceptance_limits, {"expanded_u": 0.1})],
)
def test_limit_is_needed_and_limits_must_not_cross(function, rest):
    with pytest.raises(MeasureError, match=r"lower and upper are both missing"):
        function(lower=None, upper=None, **rest)
    with pytest.raises(MeasureError, match=r"lower is 3.0 but must not be above upper, 2.0"):
        function(lower=3.0, upper=2.0, **rest)


@given(VALUES, st.floats(0.0, 50.0), st.floats(0.0, 10.0), st.floats(0.0, 3.0))
def test_guard_band_draws_both_limits_in(lower, width, expanded_u, guard):
    drawn = acceptance_limits(lower, lower + width, expanded_u, guard)
    assert drawn.lower >= lower
    assert drawn.upper <= lower + width
    assert drawn.is_empty == (drawn.lower > drawn.upper)


@given(VALUES, DOUBTS)
def test_reading_at_the_guarded_limit_conforms_as_ilac_g8_says(limit, u):
    at_limit = acceptance_limits(limit, None, 2 * u).lower
    assert conformance_probability(at_limit, u, lower=limit) >= 0.975


def test_missing_limit_stays_missing():
    assert acceptance_limits(2.7, None, 0.02).upper is None
    assert acceptance_limits(None, 0.10, 0.02).lower is None
    assert not acceptance_limits(2.7, None, 99.0).is_empty


def test_tolerance_narrower_than_the_guard_bands_accepts_nothing():
    drawn = acceptance_limits(48.0, 52.0, 2.3)
    assert drawn.is_empty
    assert not drawn.lower <= 50.0 <= drawn.upper


def test_guard_below_zero_would_loosen_the_limits_and_is_refused():
    with pytest.raises(MeasureError, match=r"guard is -1.0 but must be at least 0"):
        acceptance_limits(48.0, 52.0, 0.5, guard=-1.0)


@given(DOUBTS, DOUBTS)
def test_capability_is_one_where_the_uncertainty_fills_the_tolerance(u, times):
    assert capability_index(4 * u, u) == 1.0
    assert capability_index(4 * u * times, u) == pytest.approx(times)


@pytest.mark.parametrize("name", ["tolerance", "u"])
def test_capability_of_nothing_is_refused(name):
    numbers = {"tolerance": 4.0, "u": 0.5} | {name: 0.0}
    with pytest.raises(MeasureError, match=f"{name} is 0.0 but must be above 0"):
        capability_index(**numbers)


@given(VALUES, VALUES, DOUBTS, DOUBTS)
def test_en_number_turns_round_with_its_sides(value, certified, u, u_certified):
    there = en_number(value, certified, u, u_certified)
    assert there == -en_number(certified, value, u_certified, u)


def test_en_number_needs_some_doubt():
    assert en_number(3.0, 2.9, 0.1, 0.0) == pytest.approx(1.0)
    with pytest.raises(MeasureError, match=r"expanded_u is 0.0 .*or expanded_u_certified must be"):
        en_number(3.0, 2.9, 0.0, 0.0)
    with pytest.raises(MeasureError) as caught:
        en_number([3.0, 3.0], 2.9, [0.1, 0.0], 0.0)
    assert caught.value.index == 1


@given(st.lists(DOUBTS, min_size=1, max_size=8))
def test_contributions_combine_to_more_than_the_largest_and_less_than_the_sum(contributions):
    together = combined_uncertainty(contributions)
    assert together >= max(contributions) * (1 - 1e-12)
    assert together <= math.fsum(contributions) * (1 + 1e-12)


def test_no_contribution_is_no_uncertainty_statement():
    with pytest.raises(MeasureError, match=r"contributions needs at least 1 numbers but has 0"):
        combined_uncertainty([])
