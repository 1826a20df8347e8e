from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.film import density_range, not_rising, spread

DENSITIES = st.lists(st.floats(0.0, 6.0), min_size=2, max_size=12)
NOMINALS = st.lists(st.integers(0, 100), min_size=2, max_size=20, unique=True)


@given(DENSITIES)
def test_spread_agrees_with_numpy_and_keeps_no_order(values):
    assert spread(values) == np.ptp(values)
    assert spread(np.array(values[::-1])) == spread(values)


def test_one_spot_shows_no_spread():
    with pytest.raises(MeasureError, match=r"values needs at least 2 numbers but has 1"):
        spread([2.9])


@given(DENSITIES, DENSITIES)
def test_density_range_is_the_smallest_difference_of_any_pair(solids, clears):
    assert density_range(solids, clears) == np.subtract.outer(solids, clears).min()


@pytest.mark.parametrize("empty", ["solids", "clears"])
def test_density_range_needs_both_kinds_of_patch(empty):
    patches = {"solids": [2.9], "clears": [0.04]} | {empty: []}
    with pytest.raises(MeasureError, match=f"{empty} needs at least 1 numbers"):
        density_range(**patches)


@given(NOMINALS, st.randoms())
def test_rising_wedge_rises_in_whatever_order_it_was_read(nominal, shuffling):
    shuffling.shuffle(nominal)
    assert not_rising(nominal, [tint**2 / 100 for tint in nominal]) == []


@given(NOMINALS)
def test_falling_wedge_fails_at_every_step_but_the_first(nominal):
    falling = not_rising(nominal, [100 - tint for tint in nominal])
    assert sorted([*falling, nominal.index(min(nominal))]) == list(range(len(nominal)))


def test_flat_step_does_not_rise():
    assert not_rising([90, 95, 100], [99.9, 100.0, 100.0]) == [2]


def test_step_is_named_by_its_place_on_the_sheet():
    assert not_rising([75, 25, 50], [80.0, 30.0, 29.0]) == [2]


def test_nominal_given_twice_is_refused():
    with pytest.raises(MeasureError, match=r"nominal_percent\[2\] is 50.0 for the second time"):
        not_rising([50, 25, 50], [51.0, 26.0, 52.0])


def test_nominal_beyond_the_whole_is_refused():
    with pytest.raises(MeasureError, match=r"nominal_percent\[1\] is 128.0 but must be at most"):
        not_rising([50, 128], [51.0, 99.0])


def test_patches_without_a_partner_are_refused():
    with pytest.raises(MeasureError, match=r"measured_percent has 1 numbers but nominal_percent"):
        not_rising([50, 75], [51.0])
