import pytest
from readings import QUIET, quiet

from gatekeeper.control.base_period import BASE_READINGS, FEWEST_READINGS, base_period
from gatekeeper.measures.chart import individuals


def test_limits_come_from_the_first_twenty_readings_alone():
    base = base_period([*quiet(20), *[70.0] * 50])
    assert base.chart == individuals(quiet(20))
    assert (base.readings, base.set_aside, base.unclean) == (BASE_READINGS, (), "")
    assert not base.is_provisional


def test_too_few_readings_give_no_limits_and_say_how_many_there_are():
    base = base_period(quiet(FEWEST_READINGS - 1))
    assert base.chart is None
    assert base.unclean == "7 of 8 readings so far"
    assert base_period([]).chart is None


def test_a_young_segment_has_provisional_limits():
    base = base_period(quiet(12))
    assert base.chart is not None
    assert base.is_provisional


def test_a_wild_reading_is_set_aside_and_does_not_widen_the_limits():
    values = quiet(20)
    values[7] = 58.0
    base = base_period(values)
    assert base.set_aside == (7,)
    assert base.chart == individuals([*values[:7], *values[8:]])
    assert base.unclean == ""


def test_when_too_many_are_outside_the_base_is_called_unclean():
    values = quiet(20)
    for index, level in ((2, 56.0), (3, 56.1), (4, 56.0), (9, 44.0), (10, 44.1), (11, 44.0)):
        values[index] = level
    base = base_period(values)
    assert len(base.set_aside) <= 4
    assert "outside" in base.unclean or "one side" in base.unclean


def test_a_base_that_drifts_is_no_measure_of_normal():
    values = [50.0 + 0.15 * index + 0.3 * step for index, step in enumerate(QUIET)]
    assert base_period(values).unclean == "it drifts itself"


def test_a_base_on_two_levels_is_unclean():
    values = [*quiet(10, 50.0), *quiet(10, 50.9)]
    assert base_period(values).unclean != ""


@pytest.mark.parametrize("values", [[50.0] * 20, [50.0] * 8])
def test_readings_that_do_not_differ_give_no_limits(values):
    base = base_period(values)
    assert base.chart is None
    assert base.unclean == "the readings do not differ"
