import pytest
from readings import quiet

from gatekeeper.control.base_period import base_period
from gatekeeper.control.watch import Kind, Watch, watch


def watched(values):
    return watch(values, base_period(values))


def kinds(seen):
    return {sign.kind for sign in seen.signs}


def test_steady_readings_show_nothing():
    seen = watched(quiet(60))
    assert seen.signs == ()
    assert not seen.is_off


def test_without_limits_nothing_is_seen():
    assert watched([50.0] * 30) == Watch()
    assert watched(quiet(5)) == Watch()


def test_a_wild_reading_is_beyond_its_limit_and_a_jump():
    seen = watched([*quiet(25), 56.0])
    assert seen.at(25)[:2] == (Kind.BEYOND, Kind.JUMP)


def test_one_wild_reading_is_no_change_of_the_level():
    seen = watched([*quiet(25), 60.0])
    assert Kind.SUM in seen.at(25)
    assert not seen.is_off


def test_a_wild_reading_of_the_base_period_is_marked_too():
    values = quiet(20)
    values[7] = 58.0
    assert watched(values).at(7) == (Kind.BEYOND,)


def test_runs_within_the_base_period_are_not_signs():
    values = [49.7, 49.8, 49.6, 50.3, 50.1, 50.4, 50.2, 50.3, 50.1, 50.4, *quiet(10)]
    assert watched(values).signs == ()


def test_seven_on_one_side_are_a_run():
    seen = watched([*quiet(20), *[50.25, 50.1] * 4])
    # The base period ends with one reading above its level; six more make seven.
    assert Kind.RUN not in seen.at(24)
    assert Kind.RUN in seen.at(25)


def test_seven_that_rise_are_a_trend():
    rising = [49.2, 49.3, 49.4, 49.5, 49.6, 49.7, 49.8]
    seen = watched([*quiet(20), *rising])
    assert Kind.TREND in seen.at(26)
    assert Kind.TREND not in seen.at(25)


@pytest.mark.parametrize(("step", "side"), [(0.9, 1), (-0.9, -1)])
def test_a_small_lasting_shift_is_found_and_dated(step, side):
    seen = watched([*quiet(24), *quiet(12, 50.0 + step)])
    assert seen.is_off
    assert seen.side == side
    assert abs(seen.since - 24) <= 1
    assert {Kind.AVERAGE, Kind.SUM} <= kinds(seen)


def test_a_level_that_came_back_is_off_no_more_but_its_signs_stay():
    seen = watched([*quiet(24), *quiet(12, 51.0), *quiet(40, 49.95)])
    assert not seen.is_off
    assert Kind.SUM in kinds(seen)


def test_signs_stand_in_order():
    seen = watched([*quiet(20), 56.0, *quiet(5), 56.0, 56.5])
    assert [sign.index for sign in seen.signs] == sorted(sign.index for sign in seen.signs)
