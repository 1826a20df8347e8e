from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.density import (
    density,
    dot_area,
    dot_uncertainty,
    net_density,
    transmittance,
)
from gatekeeper.measures.errors import MeasureError

DENSITIES = st.floats(-0.1, 6.0)
SOLIDS = st.floats(0.5, 6.0)
FACTORS = st.floats(1.0, 3.0)
READINGS = st.sampled_from(["negative", "positive"])


@given(DENSITIES)
def test_density_and_transmittance_undo_each_other(net):
    assert density(transmittance(net)) == pytest.approx(net, abs=1e-12)


@given(DENSITIES, DENSITIES)
def test_denser_film_lets_less_light_through(one, other):
    low, high = sorted([one, other])
    assert transmittance(high) <= transmittance(low)


@given(DENSITIES, DENSITIES)
def test_densities_add_where_transmittances_multiply(one, other):
    together = transmittance(one) * transmittance(other)
    assert transmittance(one + other) == pytest.approx(together, rel=1e-12)


def test_clear_film_reads_zero_and_not_minus_zero():
    assert math.copysign(1.0, density(1.0)) == 1.0


@pytest.mark.parametrize("percent", [1.5, 50, 100])
def test_transmittance_in_percent_is_refused(percent):
    with pytest.raises(MeasureError, match=r"a fraction of the light, not a percentage"):
        density(percent)


@pytest.mark.parametrize("none", [0.0, -0.1])
def test_no_light_has_no_density(none):
    with pytest.raises(MeasureError, match=r"transmittance\[1\] is .* must be above 0"):
        density([0.5, none])


@given(DENSITIES, DENSITIES)
def test_net_density_comes_back_when_the_base_is_added(read, base):
    assert net_density(read, base) + base == pytest.approx(read, abs=1e-12)


@given(SOLIDS, FACTORS, st.floats(0, 1), st.floats(0, 1))
def test_negative_prints_less_the_denser_the_tint(solid, n, one, other):
    lighter, denser = sorted([one * solid, other * solid])
    on_negative = dot_area([lighter, denser], solid, reading="negative", n=n)
    on_positive = dot_area([lighter, denser], solid, reading="positive", n=n)
    assert on_negative[0] >= on_negative[1]
    assert on_positive[0] <= on_positive[1]


@given(st.floats(-1.0, 7.0), SOLIDS, FACTORS)
def test_negative_and_positive_share_the_area(tint, solid, n):
    shares = [dot_area(tint, solid, reading=each, n=n) for each in ("negative", "positive")]
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)


@given(st.floats(0, 1), SOLIDS, FACTORS)
def test_area_comes_back_from_the_density_that_it_makes(area, solid, n):
    # The equation of Yule and Nielsen the other way round, worked out with plain powers.
    tint = -n * math.log10(1 - area * (1 - 10 ** (-solid / n)))
    assert dot_area(tint, solid, reading="positive", n=n) == pytest.approx(area, abs=1e-9)


@given(SOLIDS, FACTORS)
def test_clear_film_and_solid_are_the_ends(solid, n):
    assert dot_area([0.0, solid], solid, reading="negative", n=n) == [1.0, 0.0]
    assert dot_area([0.0, solid], solid, reading="positive", n=n) == [0.0, 1.0]


def test_tint_beyond_the_ends_is_not_clipped():
    beyond = dot_area([-0.02, 3.2], 3.0, reading="negative")
    assert beyond[0] > 1.0
    assert beyond[1] < 0.0


@given(st.floats(0.05, 2.5), SOLIDS)
def test_larger_spread_factor_gives_a_smaller_black_area(tint, solid):
    plain, spread = (dot_area(tint, solid + 2.5, reading="positive", n=n) for n in (1.0, 2.0))
    assert spread < plain


@pytest.mark.parametrize("solid", [0.0, -2.9])
def test_solid_that_is_no_solid_is_refused(solid):
    with pytest.raises(MeasureError, match=r"solid is .* must be above 0"):
        dot_area(0.3, solid, reading="negative")
    with pytest.raises(MeasureError, match=r"solid is .* must be above 0"):
        dot_uncertainty(0.3, solid, u_tint=0.01, u_solid=0.01, reading="negative")


def test_spread_factor_below_one_is_refused():
    with pytest.raises(MeasureError, match=r"n is 0.9 but must be at least 1"):
        dot_area(0.3, 3.0, reading="negative", n=0.9)


def test_reading_must_be_said_and_known():
    with pytest.raises(MeasureError, match=r'reading is .* must be "negative" or "positive"'):
        dot_area(0.3, 3.0, reading="neg")
    with pytest.raises(MeasureError, match=r'reading is .* must be "negative" or "positive"'):
        dot_uncertainty(0.3, 3.0, u_tint=0.01, u_solid=0.01, reading="")


def test_uncertainty_below_zero_is_refused():
    with pytest.raises(MeasureError, match=r"u_tint is -0.01 but must be at least 0"):
        dot_uncertainty(0.3, 3.0, u_tint=-0.01, u_solid=0.01, reading="negative")
    with pytest.raises(MeasureError, match=r"u_solid is -0.01 but must be at least 0"):
        dot_uncertainty(0.3, 3.0, u_tint=0.01, u_solid=-0.01, reading="negative")


@pytest.mark.parametrize(
    ("tint", "solid", "u_tint", "u_solid"),
    [
        (0.02, 2.9, 0.01, 0.01),
        (0.30, 2.9, 0.01, 0.01),
        (0.30, 1.0, 0.01, 0.03),
        (0.90, 1.2, 0.01, 0.02),
        (1.50, 3.5, 0.02, 0.02),
        (0.60, 0.7, 0.00, 0.01),
    ],
)
def test_dot_uncertainty_agrees_with_a_monte_carlo_run(tint, solid, u_tint, u_solid):
    """JCGM 101:2008: draw the readings, work the dot out for each draw, take the scatter."""
    draws = np.random.default_rng(20261120)
    tints = draws.normal(tint, u_tint, 400_000)
    solids = draws.normal(solid, u_solid, 400_000)
    areas = (1 - 10.0**-tints) / (1 - 10.0**-solids)
    low, high = np.quantile(areas, [0.025, 0.975])
    for reading in ("negative", "positive"):
        u = dot_uncertainty(tint, solid, u_tint=u_tint, u_solid=u_solid, reading=reading)
        assert u == pytest.approx(areas.std(ddof=1), rel=0.01)
        assert 2 * 1.96 * u == pytest.approx(high - low, rel=0.01)


@given(st.floats(0.0, 3.0), st.floats(1.0, 4.0), st.floats(0.0, 0.05), st.floats(0.0, 0.05))
def test_dot_uncertainty_follows_the_slopes_of_the_dot_area(tint, solid, u_tint, u_solid):
    step = 1e-6

    def area(net, black):
        return dot_area(net, black, reading="positive")

    by_tint = (area(tint + step, solid) - area(tint - step, solid)) / (2 * step)
    by_solid = (area(tint, solid + step) - area(tint, solid - step)) / (2 * step)
    u = dot_uncertainty(tint, solid, u_tint=u_tint, u_solid=u_solid, reading="positive")
    assert u == pytest.approx(math.hypot(by_tint * u_tint, by_solid * u_solid), abs=1e-9, rel=1e-6)


def test_each_tint_may_have_its_own_uncertainty():
    both = dot_uncertainty([0.3, 0.6], 3.0, u_tint=[0.01, 0.02], u_solid=0.0, reading="negative")
    alone = dot_uncertainty(0.6, 3.0, u_tint=0.02, u_solid=0.0, reading="negative")
    assert both[1] == alone
