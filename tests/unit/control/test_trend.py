from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from readings import KEY, SETUP, START, TWO_POINTS, Quantity, Tolerance, points, quiet, series

from gatekeeper.control.chart_facts import chart_of
from gatekeeper.control.trend import trend_of
from gatekeeper.control.words import day_name

LONDON = ZoneInfo("Europe/London")
DRIFT = [*quiet(20), *(50.07 + 0.07 * index + step for index, step in enumerate(quiet(20, 0)))]


def look(values, *, key=KEY, tolerance=TWO_POINTS, **changes):
    found = points(values, **changes)
    return trend_of(series(found, key=key, tolerance=tolerance), found[-1].when, LONDON)


def test_a_drift_is_told_in_plain_words_with_the_day_and_what_to_do():
    found = look(DRIFT)
    assert found.is_news
    assert found.says[0] == (
        "mid-tone on P1 (matte-5mil, liquid-plate) has crept up 1.4 points in 6 days; "
        "expect holds from Thursday 17 September (between Monday 14 September and "
        "Saturday 5 December); print a wedge"
    )


def test_a_level_past_its_limit_is_not_foretold_but_stated():
    found = look([*quiet(20), *(50.2 + 0.2 * index for index in range(18))])
    assert found.is_news
    assert "at or past the limit of 52.0 %" in found.says[0]
    assert "expect holds" not in found.says[0]


def test_a_shift_that_goes_nowhere_is_watched_and_not_pressing():
    found = look([*quiet(24), *quiet(14, 50.8)])
    assert not found.is_news
    # The reading before the shift happens to be high, and is counted with it.
    (says,) = found.says
    assert says == (
        "mid-tone on P1 (matte-5mil, liquid-plate) has stood 0.8 points above its base period "
        "since Wednesday 9 September (15 readings): keep an eye on it"
    )


def test_a_wild_newest_reading_names_its_job_and_the_limits():
    found = look([*quiet(25), 56.0])
    assert not found.is_news
    (says,) = found.says
    # Mean step 0.6105, over 1.128, times 3: 1.62 either side of 50.005.
    assert "job J25 reads 56.0 %, outside the 48.4 % to 51.6 %" in says


def test_quiet_series_say_nothing():
    assert look(quiet(40)).says == ()


def test_young_series_say_nothing_either():
    assert look(quiet(7)).says == ()


def test_densities_are_told_as_densities():
    key = KEY._replace(quantity=Quantity("solid"))
    values = [2.95 + (value - 50) / 20 for value in quiet(20)]
    values += [2.95 - 0.005 * index + (step / 20) for index, step in enumerate(quiet(24, 0))]
    found = look(values, key=key, tolerance=Tolerance(lower=2.7))
    assert found.says[0].startswith("solid density on P1 (matte-5mil, liquid-plate) has crept down")
    assert found.says[0].endswith("look at ink, head and film before the next job")
    assert "density in" in found.says[0]


def test_after_a_new_curve_the_old_drift_is_history():
    new = SETUP._replace(curve="2026-09-15")
    found = [*points(DRIFT), *points(quiet(20), setup=new, start=START + timedelta(days=14))]
    after = trend_of(series(found), found[-1].when, LONDON)
    assert after.says == ()
    assert [stretch.segment.because for stretch in after.stretches] == [
        "",
        "new curve of 2026-09-15",
    ]


def test_capability_is_that_of_the_newest_segment():
    found = look(quiet(40))
    assert found.capability.cp == pytest.approx(0.97, abs=0.3)
    assert found.capability.mean == pytest.approx(50.0, abs=0.05)
    assert look(quiet(40), tolerance=Tolerance()).capability is None
    assert look([50.0] * 40).capability is None


def test_hostile_names_are_made_plain_in_words():
    key = KEY._replace(printer="P1\x1b[31m")
    assert "\x1b" not in look(DRIFT, key=key).says[0]


def test_days_are_named_in_the_rooms_own_zone():
    late = START.replace(hour=23, minute=30)  # half past midnight in London's summer
    assert day_name(late, LONDON) == "Wednesday 2 September"


def test_chart_has_every_point_with_its_stretch_its_limits_and_its_signs():
    new = SETUP._replace(lot="M5-0400")
    found = [*points(DRIFT), *points(quiet(4), setup=new, start=START + timedelta(days=14))]
    facts = chart_of(trend_of(series(found), found[-1].when, LONDON))
    assert len(facts.points) == 44
    assert [point.stretch for point in facts.points] == [0] * 40 + [1] * 4
    assert [point.in_base for point in facts.points] == [True] * 20 + [False] * 24
    assert any("cumulative" in shows for point in facts.points for shows in point.shows)
    first, second = facts.stretches
    assert first.lower < first.centre < first.upper
    assert (second.centre, second.note) == (None, "4 of 8 readings so far")
    assert (facts.unit, facts.nominal) == ("percent", 50.0)
    assert (facts.tolerance_lower, facts.tolerance_upper) == (48.0, 52.0)


def test_a_reading_that_was_set_aside_is_not_drawn_as_part_of_the_base():
    values = quiet(20)
    values[7] = 58.0
    drawn = chart_of(look(values)).points
    assert [index for index, point in enumerate(drawn) if not point.in_base] == [7]
    assert drawn[7].shows == ("outside its limits",)


def test_a_chart_of_the_newest_readings_draws_them_as_the_whole_one_does():
    whole = chart_of(look(DRIFT))
    newest = chart_of(look(DRIFT), most=5)
    assert newest.points == whole.points[-5:]
    assert newest.stretches == whole.stretches


def test_forecast_of_a_chart_runs_from_the_line_to_the_limit():
    forecast = chart_of(look(DRIFT)).forecast
    assert forecast.until_value == 52.0
    assert forecast.since_value < 50.5
    assert forecast.earliest < forecast.until < forecast.latest
    assert chart_of(look(quiet(40))).forecast is None
