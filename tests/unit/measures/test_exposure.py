from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.density import transmittance
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.exposure import (
    density_needed,
    dose_mj_cm2,
    exposure_window,
    leak_fraction,
    margin_stops,
)

SOLIDS = st.floats(0.0, 6.0)
DOSES = st.floats(0.1, 1e5)


@given(SOLIDS)
def test_solid_leaks_what_its_density_lets_through(net):
    assert leak_fraction(net) == transmittance(net)


@given(SOLIDS, st.floats(0.1, 900.0), DOSES)
def test_margin_runs_out_where_the_window_ends(net, floor, detail):
    window = exposure_window(net, floor_dose_mj_cm2=floor, detail_dose_mj_cm2=detail)
    margin = margin_stops(net, main_exposure_mj_cm2=window.upper_mj_cm2, floor_dose_mj_cm2=floor)
    assert margin == pytest.approx(0.0, abs=1e-9)
    at_detail = margin_stops(net, main_exposure_mj_cm2=detail, floor_dose_mj_cm2=floor)
    assert at_detail == pytest.approx(window.stops, abs=1e-9)


@given(DOSES, DOSES, st.floats(0.0, 5.0))
def test_density_needed_gives_the_margin_asked_for(exposure, floor, margin):
    needed = density_needed(
        main_exposure_mj_cm2=exposure, floor_dose_mj_cm2=floor, margin_stops=margin
    )
    got = margin_stops(needed, main_exposure_mj_cm2=exposure, floor_dose_mj_cm2=floor)
    if needed > 0.0:
        assert got == pytest.approx(margin, abs=1e-9)
    else:
        assert got >= margin - 1e-9


@given(SOLIDS, SOLIDS, DOSES, DOSES)
def test_denser_solid_has_more_margin(one, other, exposure, floor):
    weak, strong = sorted([one, other])
    margins = margin_stops([weak, strong], main_exposure_mj_cm2=exposure, floor_dose_mj_cm2=floor)
    assert margins[0] <= margins[1]


def test_every_stop_of_exposure_costs_a_stop_of_margin():
    once = margin_stops(3.0, main_exposure_mj_cm2=1000.0, floor_dose_mj_cm2=10.0)
    twice = margin_stops(3.0, main_exposure_mj_cm2=2000.0, floor_dose_mj_cm2=10.0)
    assert once - twice == pytest.approx(1.0, abs=1e-12)


def test_exposure_that_never_hardens_the_floor_needs_no_density():
    assert density_needed(main_exposure_mj_cm2=5.0, floor_dose_mj_cm2=10.0) == 0.0


def test_window_closes_on_a_weak_solid():
    window = exposure_window(1.0, floor_dose_mj_cm2=10.0, detail_dose_mj_cm2=200.0)
    assert not window.is_open
    assert window.stops == pytest.approx(-1.0)
    assert not window.holds(150.0)


def test_window_holds_its_lower_end_and_not_its_upper():
    window = exposure_window(2.0, floor_dose_mj_cm2=10.0, detail_dose_mj_cm2=500.0)
    assert window.is_open
    assert [window.holds(dose) for dose in (499.0, 500.0, 999.0, 1000.0)] == [
        False, True, True, False,
    ]  # fmt: skip
    with pytest.raises(MeasureError, match=r"main_exposure_mj_cm2 is nan"):
        window.holds(math.nan)


@given(SOLIDS, DOSES, DOSES)
def test_middle_of_the_window_has_as_many_stops_on_either_side(net, floor, detail):
    window = exposure_window(net, floor_dose_mj_cm2=floor, detail_dose_mj_cm2=detail)
    below = math.log2(window.middle_mj_cm2 / window.lower_mj_cm2)
    assert below == pytest.approx(window.stops / 2, abs=1e-9)


def test_density_below_zero_or_in_percent_is_refused():
    with pytest.raises(MeasureError, match=r"net_density is -0.1 but must be at least 0"):
        leak_fraction(-0.1)
    with pytest.raises(MeasureError, match=r"a net density, not a percentage"):
        leak_fraction(99.0)
    with pytest.raises(MeasureError, match=r"a net density, not a percentage"):
        exposure_window(99.0, floor_dose_mj_cm2=10.0, detail_dose_mj_cm2=500.0)


@pytest.mark.parametrize("name", ["floor_dose_mj_cm2", "detail_dose_mj_cm2"])
@pytest.mark.parametrize("bad", [0.0, -5.0, 1e12])
def test_dose_that_no_plate_has_is_refused_with_its_unit(name, bad):
    doses = {"floor_dose_mj_cm2": 10.0, "detail_dose_mj_cm2": 500.0} | {name: bad}
    with pytest.raises(MeasureError, match=rf"{name} is .* \(in mJ/cm2\)"):
        exposure_window(3.0, **doses)


def test_dose_is_irradiance_times_time():
    assert dose_mj_cm2([20.0, 10.0], 100.0) == [2000.0, 1000.0]
    with pytest.raises(MeasureError, match=r"time_s is -1.0 but must be at least 0"):
        dose_mj_cm2(20.0, -1.0)
