from dataclasses import replace

import pytest

from gatekeeper.history.measured import measured_readings
from gatekeeper.sheet import Bound, Patch, PatchKind, ZeroedOn


def readings(make, *patches, zeroed_on=ZeroedOn.CLEAR, reading="negative"):
    negative = replace(make.NEGATIVE, zeroed_on=zeroed_on, patches=patches)
    return measured_readings(replace(make.SHEET, negatives=(negative,)), reading=reading)


def patches(make, clear, solid, tint, bound=Bound.EXACT):
    return (
        Patch(PatchKind.CLEAR, density=make.number(clear)),
        Patch(PatchKind.SOLID, density=make.number(solid, bound=bound)),
        Patch(PatchKind.TINT, nominal=make.number(50.0), density=make.number(tint)),
    )


# Murray-Davies, J. Franklin Inst. 221 (1936): black = (1 - 10^-0.30) / (1 - 10^-2.90)
# = 0.498813 / 0.998741 = 0.499442; a negative prints what is not black. Worked by hand.
@pytest.mark.parametrize(("reading", "dot"), [("negative", 50.0558), ("positive", 49.9442)])
@pytest.mark.parametrize(("zeroed_on", "base"), [(ZeroedOn.CLEAR, 0.0), (ZeroedOn.AIR, 0.04)])
def test_net_density_and_dot_are_those_over_clear_film(make, reading, dot, zeroed_on, base):
    read = patches(make, base, base + 2.90, base + 0.30)
    clear, solid, tint = readings(make, *read, zeroed_on=zeroed_on, reading=reading)
    assert clear.net_density == pytest.approx(0.0, abs=1e-9)
    assert solid.net_density == pytest.approx(2.90)
    assert tint.net_density == pytest.approx(0.30)
    assert tint.dot_percent == pytest.approx(dot, abs=1e-4)
    assert solid.dot_percent is None


def test_without_a_usable_solid_there_is_no_dot(make):
    over_range = patches(make, 0.0, 3.0, 0.3, bound=Bound.AT_LEAST)
    assert readings(make, *over_range)[2].dot_percent is None
    assert readings(make, *patches(make, 0.0, 0.0, 0.3))[2].dot_percent is None


def test_without_a_known_zero_there_is_no_net_density(make):
    read = readings(make, *patches(make, 0.9, 2.9, 0.3), zeroed_on=None)
    assert [reading.net_density for reading in read] == [None, None, None]
    assert [reading.patch.density.value for reading in read] == [0.9, 2.9, 0.3]
