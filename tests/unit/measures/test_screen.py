from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.screen import (
    grey_levels,
    inch_to_mm,
    lpcm_to_lpi,
    lpi_to_lpcm,
    mil_to_mm,
    points_to_mm,
    smallest_dot_percent,
)

RULINGS = st.floats(20.0, 200.0)
FINENESS = st.floats(1.5, 100.0)


@given(RULINGS)
def test_ruling_comes_back_from_the_other_unit(lpi):
    assert lpcm_to_lpi(lpi_to_lpcm(lpi)) == pytest.approx(lpi, rel=1e-12)


@given(RULINGS, FINENESS)
def test_smallest_dot_is_one_step_of_the_cell(lpi, fineness):
    dpi = lpi * fineness
    assert smallest_dot_percent(dpi, lpi) * (grey_levels(dpi, lpi) - 1) == pytest.approx(100.0)


@given(RULINGS, FINENESS)
def test_unit_of_the_screen_does_not_matter_when_both_share_it(lpi, fineness):
    dpi = lpi * fineness
    in_cm = grey_levels(lpi_to_lpcm(dpi), lpi_to_lpcm(lpi))
    assert in_cm == pytest.approx(grey_levels(dpi, lpi), rel=1e-9)


@given(RULINGS, FINENESS, st.floats(1.01, 3.0))
def test_coarser_ruling_holds_a_smaller_dot(lpi, fineness, coarser):
    dpi = lpi * fineness
    assert smallest_dot_percent(dpi, lpi / coarser) < smallest_dot_percent(dpi, lpi)


@pytest.mark.parametrize("function", [grey_levels, smallest_dot_percent])
def test_ruling_as_fine_as_the_printer_is_refused(function):
    with pytest.raises(MeasureError, match=r"dpi is 65.0 but must be above lpi, 65.0"):
        function(65.0, 65.0)
    with pytest.raises(MeasureError, match=r"dpi\[1\] is 65.0 but must be above lpi, 1440.0"):
        function([2880.0, 65.0], 1440.0)


@pytest.mark.parametrize("function", [lpi_to_lpcm, lpcm_to_lpi])
@pytest.mark.parametrize("bad", [0.0, -65.0])
def test_ruling_of_nothing_is_refused(function, bad):
    with pytest.raises(MeasureError, match=r"must be above 0"):
        function(bad)


@pytest.mark.parametrize("function", [points_to_mm, mil_to_mm, inch_to_mm])
def test_length_below_nothing_is_refused_and_nothing_is_nothing(function):
    assert function(0) == 0.0
    with pytest.raises(MeasureError, match=r"must be at least 0"):
        function(-1.0)


def test_units_of_length_agree_with_each_other():
    assert points_to_mm(72) == inch_to_mm(1) == pytest.approx(mil_to_mm(1000))
