from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.distortion import (
    distorted_length,
    film_growth,
    k_factor,
    length_tolerance,
    shrunk_length,
)
from gatekeeper.measures.errors import MeasureError

LENGTHS = st.floats(0.0, 3000.0)
REPEATS = st.floats(200.0, 2000.0)
PLATES = st.floats(0.5, 7.0)


@given(PLATES, REPEATS)
def test_whole_turn_prints_shorter_on_film_by_k(plate, repeat):
    k = k_factor(plate, 0.125)
    assert repeat - distorted_length(repeat, k, repeat) == pytest.approx(k, rel=1e-9)


@given(PLATES, REPEATS)
def test_wrap_agrees_with_the_rings_that_the_plate_makes(plate, repeat):
    # The face runs round at repeat / 2 pi, the base that keeps its length lies deeper.
    radius = repeat / math.tau
    inner = math.tau * (radius - (plate - 0.175))
    assert distorted_length(repeat, k_factor(plate, 0.175), repeat) == pytest.approx(inner)


@given(LENGTHS, LENGTHS, REPEATS)
def test_longer_prints_longer(one, other, repeat):
    shorter, longer = sorted([one, other])
    on_film = distorted_length([shorter, longer], 9.6, repeat)
    assert on_film[0] <= on_film[1]
    assert on_film[1] <= longer


@given(PLATES, st.floats(1.01, 3.0))
def test_thicker_plate_has_a_larger_k(plate, times):
    assert k_factor(plate * times, 0.1) > k_factor(plate, 0.1)


def test_base_thicker_than_the_plate_is_refused():
    with pytest.raises(MeasureError, match=r"plate_mm is 0.1 but must be above base_mm, 0.175"):
        k_factor(0.1, 0.175)
    with pytest.raises(MeasureError, match=r"plate_mm\[1\] is 0.175 but must be above"):
        k_factor([1.7, 0.175], 0.175)


def test_repeat_shorter_than_k_is_refused():
    with pytest.raises(MeasureError, match=r"repeat_mm is 9.0 but must be above k_mm, 9.6"):
        distorted_length(100.0, 9.6, 9.0)


@pytest.mark.parametrize("name", ["length_mm", "k_mm"])
def test_length_below_nothing_is_refused(name):
    given_lengths = {"length_mm": 100.0, "k_mm": 9.6, "repeat_mm": 500.0} | {name: -1.0}
    with pytest.raises(MeasureError, match=f"{name} is -1.0 but must be at least 0"):
        distorted_length(**given_lengths)


@given(LENGTHS, st.floats(-20, 20), st.floats(-50, 50))
def test_film_that_goes_there_and_back_has_not_grown(length, warmer, damper):
    climate = {"per_c": 1.8e-5, "per_rh": 1.1e-5}
    there = film_growth(length, delta_c=warmer, delta_rh=damper, **climate)
    back = film_growth(length, delta_c=-warmer, delta_rh=-damper, **climate)
    assert there == -back


def test_growth_of_each_kind_adds():
    both = film_growth(600.0, delta_c=4.0, delta_rh=10.0, per_c=2e-5, per_rh=1e-5)
    warm = film_growth(600.0, delta_c=4.0, delta_rh=0.0, per_c=2e-5, per_rh=1e-5)
    damp = film_growth(600.0, delta_c=0.0, delta_rh=10.0, per_c=2e-5, per_rh=1e-5)
    assert both == pytest.approx(warm + damp)


@pytest.mark.parametrize(("name", "bad"), [("per_c", 0.0018), ("per_rh", 0.0008)])
def test_coefficient_in_percent_is_refused(name, bad):
    coefficients = {"per_c": 1.8e-5, "per_rh": 0.8e-5} | {name: bad}
    with pytest.raises(MeasureError, match=rf"{name} is .* \(a fraction, not a percentage\)"):
        film_growth(600.0, delta_c=4.0, delta_rh=10.0, **coefficients)


def test_humidity_cannot_change_by_more_than_all_of_it():
    with pytest.raises(MeasureError, match=r"delta_rh is 101.0 but must be at most 100"):
        film_growth(600.0, delta_c=0.0, delta_rh=101.0, per_c=0.0, per_rh=1e-5)


def test_shrink_goes_one_way_and_stretch_the_other():
    assert shrunk_length([600.0, 600.0], [1.0, -1.0]) == pytest.approx([594.0, 606.0])
    with pytest.raises(MeasureError, match=r"in percent of the length"):
        shrunk_length(600.0, 15.0)


@given(LENGTHS, st.floats(0, 1), st.floats(0, 2))
def test_tolerance_is_the_fixed_part_and_a_share_of_the_length(length, fixed, share):
    tolerance = length_tolerance(length, fixed_mm=fixed, per_mille=share)
    assert tolerance == pytest.approx(fixed + length * share / 1000)
    assert tolerance >= fixed


@pytest.mark.parametrize("name", ["fixed_mm", "per_mille"])
def test_tolerance_below_nothing_is_refused(name):
    parts = {"fixed_mm": 0.1, "per_mille": 0.2} | {name: -0.1}
    with pytest.raises(MeasureError, match=f"{name} is -0.1 but must be at least 0"):
        length_tolerance(600.0, **parts)
