from datetime import timedelta

import pytest
from readings import START, TWO_POINTS, Tolerance, points, quiet

from gatekeeper.control.base_period import base_period
from gatekeeper.control.prospect import HORIZON, REST, prospect
from gatekeeper.control.watch import watch

DAY = timedelta(days=1)


def drifting(per_reading, number=20, level=50.0):
    return [
        *quiet(20, level),
        *(level + per_reading * (index + 1) + step for index, step in enumerate(quiet(number, 0))),
    ]


def look(values, tolerance=TWO_POINTS, now=None, per_day=3):
    found = points(values, per_day=per_day)
    seen = watch(values, base_period(values))
    return prospect(found, tolerance, seen, now or found[-1].when)


def test_a_drift_is_told_with_the_day_on_which_it_leaves_its_tolerance():
    # 0.07 points a reading, three a day: 0.21 a day from day 6.6 on, so 2 points by day 16.2.
    ahead = look(drifting(0.07))
    assert ahead.is_news
    assert ahead.per_day == pytest.approx(0.21, abs=0.03)
    assert abs(ahead.crossing - (START + 16.2 * DAY)) < 1.5 * DAY
    assert ahead.earliest < ahead.crossing < ahead.latest
    assert ahead.reading_earliest < ahead.earliest
    assert ahead.limit == 52.0


def test_a_drift_downwards_meets_the_lower_limit():
    assert look(drifting(-0.07)).limit == 48.0


def test_steady_readings_are_no_news():
    ahead = look(quiet(40))
    assert not ahead.is_sure
    assert not ahead.is_news


def test_a_drift_that_arrives_after_the_horizon_is_sure_but_no_news():
    values = drifting(0.07, number=30)
    assert look(values).is_news
    ahead = look(values, tolerance=Tolerance(30.0, 70.0))
    assert ahead.is_sure
    assert ahead.crossing - (START + 17 * DAY) > HORIZON
    assert not ahead.is_news


def test_a_level_past_its_tolerance_is_news_with_a_day_in_the_past():
    ahead = look(drifting(0.12, number=24))
    assert ahead.is_news
    assert ahead.crossing < START + 44 / 3 * DAY


def test_a_level_on_its_way_back_is_no_news():
    back = [
        *drifting(0.1),
        *(51.9 - 0.05 * index + step for index, step in enumerate(quiet(30, 0))),
    ]
    ahead = look(back)
    assert not ahead.is_news
    assert look(back[:42]).is_news


def test_a_level_past_its_tolerance_that_falls_back_is_no_news():
    falling = [55.0 - 0.065 * index + step for index, step in enumerate(quiet(40, 0))]
    ahead = look([*quiet(20), *falling])
    assert ahead.is_sure
    assert ahead.per_day < 0
    assert ahead.crossing < START + 60 / 3 * DAY + HORIZON
    assert not ahead.is_news


@pytest.mark.parametrize("step", [0.8, 1.2])
def test_a_level_that_jumped_and_stays_is_no_drift(step):
    assert not look([*quiet(24), *quiet(16, 50.0 + step)]).is_news


def test_a_jump_past_the_tolerance_is_news_all_the_same():
    assert look([*quiet(24), *quiet(8, 52.6)]).is_news


def test_a_printer_that_rests_is_not_foretold():
    values = drifting(0.07)
    last = points(values)[-1].when
    assert look(values, now=last + REST).is_news
    assert not look(values, now=last + REST + DAY).is_news


@pytest.mark.parametrize(
    ("values", "tolerance"),
    [
        (drifting(0.07), Tolerance()),  # nothing to leave
        (quiet(4), TWO_POINTS),  # nothing to lay a line through
    ],
)
def test_where_nothing_can_be_told_there_is_no_prospect(values, tolerance):
    assert look(values, tolerance) is None


def test_films_all_of_one_moment_give_no_line():
    values = quiet(9)
    found = [
        type(point)(START, point.value, point.job, point.setup, point.held)
        for point in points(values)
    ]
    assert prospect(found, TWO_POINTS, watch(values, base_period(values)), START) is None


def test_a_limit_on_one_side_only_is_met_from_that_side():
    rising = look(drifting(0.07), tolerance=Tolerance(lower=48.0))
    assert rising.limit is None
    assert rising.crossing is None
    assert not rising.is_news
