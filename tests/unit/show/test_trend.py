from datetime import UTC, datetime, timedelta

from gatekeeper.control.review import Review, RoomReview, Wanted
from gatekeeper.control.series import Point, Quantity, Series, SeriesKey, Setup, Tolerance
from gatekeeper.control.shares import share
from gatekeeper.control.trend import trend_of
from gatekeeper.control.yields import Reason, Yield
from gatekeeper.show.trend import review_lines

START = datetime(2026, 9, 1, 8, 0, tzinfo=UTC)
KEY = SeriesKey("liquid-plate", "P1", "matte-5mil", Quantity("tint", 50.0))
STEPS = (0.3, -0.5, 0.1, 0.6, -0.2, -0.4, 0.5, -0.1, 0.2, -0.6)
NOTHING = Yield(share(0, 0), share(0, 0), 0, ())
SOME = Yield(
    held=share(3, 40),
    first_pass=share(36, 40),
    concessions=1,
    reasons=tuple(Reason(f"rule.{number}", 10 - number, 0.1 * number) for number in range(10)),
)


def trend(per_reading, number=44, key=KEY):
    """Return a series that keeps its level for 24 readings and then drifts."""
    points = [
        Point(
            START + timedelta(hours=8 * index),
            50 + STEPS[index % 10] + per_reading * max(0, index - 23),
            f"J{index}",
            Setup("2026-08-31", "M5-0317", ""),
            held=index == number - 1,
        )
        for index in range(number)
    ]
    series = Series(key, tuple(points), Tolerance(48.0, 52.0))
    return trend_of(series, points[-1].when, UTC)


def lines(*trends, came_through=NOTHING, **options):
    review = Review(Wanted(START), START, (RoomReview("north", trends, came_through),))
    return list(review_lines(review, UTC, **options))


def test_words_come_first_and_say_what_presses():
    told = lines(trend(0.08), trend(0.0))
    assert told[0].startswith("ACT    mid-tone on P1 (matte-5mil, liquid-plate) has crept up")
    assert "expect holds from" in " ".join(told[:4])


def test_the_readings_of_a_drifting_series_follow_with_what_each_shows():
    told = "\n".join(lines(trend(0.08)))
    assert "tolerance 48.0 % to 52.0 %" in told
    assert "level 50.0 %, control limits 48." in told
    assert "Cpk" in told
    assert "15 Sep 16:00  J43  52.2 %  HELD  outside its limits, run on one side," in told
    assert "cumulative sum off" in told


def test_the_chart_stands_above_its_readings_and_quiet_ones_are_drawn_only_when_asked():
    told = lines(trend(0.08))
    top = next(number for number, line in enumerate(told) if line.startswith("  52.0  ==="))
    assert top < next(number for number, line in enumerate(told) if "15 Sep 16:00" in line)
    assert "X held" in "\n".join(told)
    assert not any("===" in line for line in lines(trend(0.0)))
    assert any("===" in line for line in lines(trend(0.0), everything=True))


def test_quiet_series_are_counted_and_listed_only_when_asked():
    told = lines(trend(0.0), trend(0.0, number=5))
    assert told[0] == "all quiet: every series keeps the level that it had in its base period"
    assert "1 quiet and 1 without limits yet of 2 series; --all lists them" in told
    everything = "\n".join(lines(trend(0.0), trend(0.0, number=5), everything=True))
    assert "no control limits yet (5 of 8 readings so far)" in everything
    assert "base period" in everything
    assert "--all" not in everything


def test_a_room_without_readings_says_so():
    assert lines()[0] == "no readings that could be charted arrived in this while"
    assert lines()[-1] == "first-pass yield  no jobs"


def test_young_series_alone_are_not_called_quiet():
    assert lines(trend(0.0, number=5))[0] == "no series has enough readings for control limits yet"


def test_yield_and_reasons_come_last_with_their_bounds():
    told = lines(trend(0.0), came_through=SOME)
    assert "held now          8% (3 of 40; in the long run 3% to 20%)" in told
    assert "approved under a concession: 1 job" in told
    assert "  rule.0  10 jobs  0% so far" in told
    assert told[-1] == "  and 2 more reasons"


def test_no_line_is_wider_than_a_page():
    long = KEY._replace(printer="P" * 60, stock="s" * 60, workflow="w" * 60)
    for line in lines(trend(0.08), came_through=SOME, everything=True):
        assert len(line) <= 78
    assert lines(trend(0.08, key=long))
