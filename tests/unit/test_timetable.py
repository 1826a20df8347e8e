from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from gatekeeper.upkeep.timetable import due, latest

LONDON = ZoneInfo("Europe/London")
BERLIN = ZoneInfo("Europe/Berlin")
SEVEN = time(7, 0)


def at(*moment, zone=LONDON):
    return datetime(*moment, tzinfo=zone)


def test_latest_run_is_todays_once_its_time_has_come_else_yesterdays():
    assert latest(SEVEN, at(2026, 11, 20, 7, 0), LONDON) == at(2026, 11, 20, 7, 0)
    assert latest(SEVEN, at(2026, 11, 20, 6, 59), LONDON) == at(2026, 11, 19, 7, 0)


def test_time_of_day_is_the_rooms_own():
    now = datetime(2026, 7, 1, 6, 30, tzinfo=UTC)  # half past seven in London's summer
    assert latest(SEVEN, now, LONDON) == at(2026, 7, 1, 7, 0)
    assert latest(SEVEN, now, UTC) == datetime(2026, 6, 30, 7, 0, tzinfo=UTC)


def test_a_task_is_due_once_a_day():
    done = {"digest": latest(SEVEN, at(2026, 11, 19, 12), LONDON)}
    now = at(2026, 11, 20, 7, 1)
    assert due({"digest": SEVEN}, done, now, LONDON) == ["digest"]
    done["digest"] = latest(SEVEN, now, LONDON)
    assert due({"digest": SEVEN}, done, now + timedelta(hours=23), LONDON) == []
    assert due({"digest": SEVEN}, done, now + timedelta(hours=24), LONDON) == ["digest"]


def test_days_that_were_missed_are_caught_up_once():
    done = {"digest": at(2026, 11, 10, 7, 0)}
    now = at(2026, 11, 20, 3, 0)
    assert due({"digest": SEVEN}, done, now, LONDON) == ["digest"]
    done["digest"] = latest(SEVEN, now, LONDON)
    assert due({"digest": SEVEN}, done, now, LONDON) == []
    assert due({"digest": SEVEN}, done, at(2026, 11, 20, 7, 0), LONDON) == ["digest"]


def test_a_task_that_was_never_done_waits_for_its_first_time():
    assert due({"digest": SEVEN}, {}, at(2026, 11, 20, 12), LONDON) == []


def test_a_clock_that_steps_back_does_nothing_twice():
    now = at(2026, 11, 20, 7, 5)
    done = {"digest": latest(SEVEN, now, LONDON)}
    assert due({"digest": SEVEN}, done, now - timedelta(days=3), LONDON) == []
    assert due({"digest": SEVEN}, done, now, LONDON) == []


def runs_of(task_at, start, days, zone):
    """Walk through the days minute by ten minutes, and return the moments at which it ran."""
    done, runs = {"t": latest(task_at, start, zone)}, []
    now = start
    while now < start + timedelta(days=days):
        if due({"t": task_at}, done, now, zone):
            runs.append(now)
            done["t"] = latest(task_at, now, zone)
        now += timedelta(minutes=10)
    return runs


@pytest.mark.parametrize(
    ("task_at", "start"),
    [
        (time(2, 30), datetime(2026, 10, 23, 12, tzinfo=UTC)),  # an hour that comes twice
        (time(2, 30), datetime(2027, 3, 26, 12, tzinfo=UTC)),  # an hour that is left out
        (time(7, 0), datetime(2026, 10, 23, 12, tzinfo=UTC)),
        (time(0, 0), datetime(2027, 3, 26, 12, tzinfo=UTC)),
    ],
)
def test_days_of_23_and_25_hours_have_one_run_each(task_at, start):
    runs = runs_of(task_at, start, 4, BERLIN)
    days = [run.astimezone(BERLIN).date() for run in runs]
    assert len(days) == len(set(days)) == 4


def test_tasks_come_in_the_order_of_the_timetable():
    long_ago = at(2026, 1, 1)
    done = {"backup": long_ago, "digest": long_ago}
    times = {"digest": SEVEN, "backup": time(1, 0)}
    assert due(times, done, at(2026, 11, 20, 8), LONDON) == ["digest", "backup"]
