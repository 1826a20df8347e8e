from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from gatekeeper.measures.forecast import _Band, forecast_crossing
from gatekeeper.measures.robust_line import RobustLine, robust_line

LIMITS = {"lower": 48.0, "upper": 52.0}
SERIES = st.lists(st.floats(-0.5, 0.5), min_size=6, max_size=25)


def drifting(noise, drift, start=50.0):
    return list(range(len(noise))), [start + drift * t + off for t, off in enumerate(noise)]


@given(st.floats(0.01, 1.0), st.sampled_from([-1, 1]), st.integers(5, 20))
def test_straight_drift_crosses_on_the_day_that_arithmetic_says(drift, way, count):
    forecast = forecast_crossing(*drifting([0.0] * count, way * drift), **LIMITS)
    assert forecast.side == ("upper" if way > 0 else "lower")
    assert forecast.crossing == pytest.approx(2 / drift)
    assert forecast.earliest == pytest.approx(2 / drift, abs=1e-6)
    assert forecast.latest == pytest.approx(2 / drift, abs=1e-6)
    assert forecast.is_drifting


@given(SERIES, st.floats(-0.5, 0.5))
def test_bounds_are_where_the_band_of_the_line_meets_the_limit(noise, drift):
    times, values = drifting(noise, drift)
    forecast = forecast_crossing(times, values, **LIMITS)
    line = robust_line(times, values)
    assume(line.scale > 1e-6)
    reach = stats.t.ppf(0.975, len(times) - 2) * line.scale
    limit = LIMITS.get(forecast.side)
    for time, more in (
        (forecast.earliest, 0),
        (forecast.latest, 0),
        (forecast.reading_earliest, 1),
    ):
        if time is not None and abs(time) < 1e6:
            away = (time - line.mean_time) / line.time_spread
            band = reach * math.sqrt(more + 1 / len(times) + away**2)
            assert abs(line.at(time) - limit) == pytest.approx(band, rel=1e-5, abs=1e-6)


@given(SERIES, st.floats(-0.5, 0.5))
def test_bounds_come_in_order(noise, drift):
    forecast = forecast_crossing(*drifting(noise, drift), **LIMITS)
    assume(forecast.side is not None)
    if forecast.earliest is not None:
        assert forecast.earliest <= forecast.crossing + 1e-6
    if forecast.latest is not None:
        assert forecast.crossing <= forecast.latest + 1e-6
    if forecast.is_drifting:
        assert forecast.earliest is not None
        assert forecast.latest is not None
        assert forecast.reading_earliest <= forecast.earliest + 1e-6
    assert forecast.slope_lower <= forecast.slope <= forecast.slope_upper


@given(SERIES, st.floats(-0.5, 0.5))
def test_mirror_image_crosses_the_other_limit_at_the_same_time(noise, drift):
    times, values = drifting(noise, drift)
    one = forecast_crossing(times, values, **LIMITS)
    other = forecast_crossing(times, [100 - value for value in values], **LIMITS)
    assert {one.side, other.side} in ({"upper", "lower"}, {None})
    for name in ("crossing", "earliest", "latest", "reading_earliest"):
        expected = getattr(one, name)
        assume(expected is None or abs(expected) < 1e4)  # far away, rounding alone moves it
        assert getattr(other, name) == (None if expected is None else pytest.approx(expected))


@pytest.mark.parametrize("readings", [10, 30])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
@pytest.mark.parametrize("kind", ["normal", "with wild readings", "in whole steps"])
def test_bounds_hold_the_true_crossing_at_least_about_as_often_as_they_say(
    readings, confidence, kind
):
    rng = np.random.default_rng(20261120)
    made, held, drift = 0, 0, 0.12
    for _ in range(400):
        noise = rng.normal(0, 0.4, readings)
        if kind == "with wild readings":
            noise += (rng.random(readings) < 0.1) * rng.normal(0, 4, readings)
        times, values = drifting(noise.tolist(), drift)
        if kind == "in whole steps":
            values = [round(2 * value) / 2 for value in values]
        forecast = forecast_crossing(times, values, **LIMITS, confidence=confidence)
        # A few readings in coarse steps may show no slope at all: then nothing is forecast.
        made += forecast.side is not None
        held += (
            forecast.side == "upper"
            and (forecast.earliest is None or forecast.earliest <= 2 / drift)
            and (forecast.latest is None or 2 / drift <= forecast.latest)
        )
    error = 4 * math.sqrt(confidence * (1 - confidence) / made)
    assert made > 300
    assert confidence - error <= held / made
    # Nor are they wide beyond use: 0.8 that holds always would be no 0.8.
    assert held / made <= confidence + max(error, (1 - confidence) * 0.75)


def test_readings_that_only_scatter_are_not_called_a_drift():
    rng = np.random.default_rng(20261120)
    called = sum(
        forecast_crossing(range(20), rng.normal(50, 0.4, 20).tolist(), **LIMITS).is_drifting
        for _ in range(500)
    )
    assert called / 500 < 0.05 + 4 * math.sqrt(0.05 * 0.95 / 500)


def test_level_that_may_never_cross_has_no_latest_day():
    noise = [0.4 * (-1) ** day for day in range(12)]
    forecast = forecast_crossing(*drifting(noise, 0.03), **LIMITS)
    assert not forecast.is_drifting
    assert forecast.latest is None
    assert forecast.earliest > 11


def test_level_that_cannot_be_told_from_the_limit_has_no_bounds():
    noise = [0.6 * (-1) ** day for day in range(8)]
    forecast = forecast_crossing(*drifting(noise, 0.02, start=51.9), **LIMITS)
    assert forecast.side == "upper"
    assert forecast.earliest is forecast.latest is None


def test_level_beyond_the_limit_on_an_unsure_drift_crossed_at_the_latest_then():
    noise = [0.4 * (-1) ** day for day in range(12)]
    forecast = forecast_crossing(*drifting(noise, 0.03, start=54.0), **LIMITS)
    assert not forecast.is_drifting
    assert forecast.crossing < 0
    assert forecast.earliest is None
    assert forecast.latest < 0


def test_level_that_has_left_crossed_in_the_past():
    forecast = forecast_crossing(*drifting([0.0, 0.1, 0.0, -0.1, 0.0, 0.1] * 3, 0.5), **LIMITS)
    assert forecast.level > 52
    assert forecast.latest < 17


@pytest.mark.parametrize(
    ("drift", "limits"),
    [(0.1, {"lower": 48, "upper": None}), (-0.1, {"lower": None, "upper": 52}), (0.0, LIMITS)],
)
def test_drift_towards_no_limit_crosses_nothing(drift, limits):
    forecast = forecast_crossing(*drifting([0.0] * 8, drift), **limits)
    assert forecast.slope == pytest.approx(drift)
    assert forecast.side is None
    assert forecast.crossing is forecast.earliest is forecast.latest is None
    assert forecast.reading_earliest is None


def test_time_that_no_number_can_hold_is_none():
    values = [number * 1e-300 for number in range(5)]
    forecast = forecast_crossing([0, 1e9, 2e9, 3e9, 4e9], values, lower=None, upper=1e90)
    assert forecast.side == "upper"
    assert forecast.crossing is forecast.earliest is forecast.latest is None


def test_drift_on_the_limit_with_nothing_else_gives_no_bounds_but_no_error():
    tiny = [number * 5e-324 for number in range(5)]
    forecast = forecast_crossing([0, 1, 2, 3, 4], tiny, lower=None, upper=1e-323)
    assert forecast.side == "upper"
    assert forecast.crossing == pytest.approx(2.0)


def test_drift_too_small_for_any_number_gives_no_bounds():
    line = RobustLine(
        slope=5e-324, slope_lower=0.0, slope_upper=0.0, level=52.0, mean_time=0.0, last_time=0.2,
        time_spread=0.1, scale=0.0, readings=5,
    )  # fmt: skip
    assert _Band(line, limit=52.0, reach=0.0).holds_limit(0.2) == (None, None)
