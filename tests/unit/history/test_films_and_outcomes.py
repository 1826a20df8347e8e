from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, event

from gatekeeper.history import FiledSheet, measured_films
from gatekeeper.verdict import Decision, Finding, Outcome

START = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)
HELD, APPROVED = Decision.HELD, Decision.APPROVED
LATE = Finding("job", "job.complete", Outcome.HOLD, "waiting for one more separation")
UNREAD = Finding("meter", "meter.known", Outcome.NOT_JUDGED, "no such meter")


def ticket(day):
    return f"{START + timedelta(days=day):%Y%m%dT%H%M%S.%f}Z-{int(10 * day):08x}"


def film(make, day, *, printer="P1", meter="T-04", **changes):
    """Return a filed verdict of that day; the film was printed by this printer."""
    text = type(make.NEGATIVE.printer)
    negative = replace(make.NEGATIVE, printer=text(printer), meter=text(meter))
    sheet = FiledSheet("1041.csv", replace(make.SHEET, negatives=(negative,)), make.READINGS)
    moment = START + timedelta(days=day)
    values = {"job": f"J{day}", "arrived": moment.isoformat(), "filed_at": moment}
    return make.filed(ticket(day), sheets=(sheet,), **{**values, **changes})


on_a_file = pytest.mark.parametrize("make_room", ["file_room"], indirect=True)
"""For what SQLite says of its own plans."""


@pytest.fixture
def history(room, make):
    history = room.open()
    history.remember_many(
        film(
            make,
            day,
            printer=f"P{day % 2}",
            meter=f"T-0{day % 3}",
            workflow="liquid-plate" if day < 6 else "screen",
            decision=HELD if day == 3 else APPROVED,
        )
        for day in range(9)
    )
    return history


@pytest.mark.parametrize(
    ("asked", "jobs"),
    [
        ({}, "J0 J1 J2 J3 J4 J5 J6 J7 J8"),
        ({"since": START + timedelta(days=7)}, "J7 J8"),
        ({"workflow": "screen"}, "J6 J7 J8"),
        ({"printer": "P1"}, "J1 J3 J5 J7"),
        ({"meter": "T-02", "printer": "P1"}, "J5"),
        ({"workflow": "none"}, ""),
    ],
)
def test_films_are_found_by_time_workflow_printer_and_meter(history, asked, jobs):
    found = history.films(**{"since": START, **asked})
    assert [film.job for film in found] == jobs.split()


@pytest.mark.parametrize("page", [1, 2, 4, 500])
@pytest.mark.parametrize(
    "asked", [{}, {"workflow": "screen"}, {"printer": "P1"}, {"since": START + timedelta(days=7)}]
)
def test_films_read_some_at_a_time_are_the_same(history, asked, page, monkeypatch):
    monkeypatch.setattr(measured_films, "PAGE", page)
    asked = {"since": START, **asked}
    assert tuple(history.each_film(**asked)) == history.films(**asked)


def test_what_is_recorded_while_films_are_read_hinders_nobody(history, make, monkeypatch):
    monkeypatch.setattr(measured_films, "PAGE", 2)
    reading = history.each_film(since=START)
    first = next(reading)
    history.remember(film(make, 9, job="new"))
    assert [first.job, *(entry.job for entry in reading)] == [*(f"J{n}" for n in range(9)), "new"]


def test_a_film_comes_with_its_readings_and_the_verdict_that_its_sheet_brought(history):
    held = history.films(since=START)[3]
    assert (held.job, held.decision, held.arrived_at) == ("J3", HELD, START + timedelta(days=3))
    kinds = [(reading.kind, reading.nominal) for reading in held.negative.readings]
    assert kinds == [("clear", None), ("solid", None), ("tint", 50.0), ("length", 600.0)]


def test_moments_in_another_zone_are_compared_as_moments(history):
    east = START.astimezone(tz=datetime.fromisoformat("2026-01-01T00:00+09:00").tzinfo)
    assert len(history.films(since=east)) == 9


def test_every_verdict_of_a_job_is_an_outcome_with_the_rules_that_held(room, make):
    history = room.open()
    held = {"decision": HELD, "findings": (LATE, UNREAD, LATE)}
    history.remember(make.filed(ticket(0), job="1", filed_at=START, **held))
    history.remember(make.filed(ticket(1), job="1", was="held", filed_at=START))
    history.remember(make.filed(ticket(2), job="2", workflow="screen", filed_at=START))
    found = history.outcomes(since=START)
    assert [(entry.workflow, entry.decision, entry.rules) for entry in found] == [
        ("liquid-plate", HELD, ("job.complete", "meter.known")),
        ("liquid-plate", APPROVED, ()),
        ("screen", APPROVED, ()),
    ]
    assert found[0].home == found[1].home != found[2].home
    assert [entry.is_newest for entry in found] == [False, True, True]
    assert history.outcomes(since=START, workflow="screen") == found[2:]


def test_verdicts_of_a_while_are_counted_by_the_database(room, make):
    history = room.open()
    nothing = history.lately(since=START)
    assert (nothing.given, nothing.held_by) == ({}, {})
    assert nothing.median_s is nothing.longest_s is None
    held = {"decision": HELD, "findings": (LATE, UNREAD, LATE)}
    for day, job, took_s, more in (
        (0, "1", 2.0, held),
        (1, "1", 20.0, {}),
        (2, "2", 3.0, {"decision": HELD, "findings": (LATE,)}),
        (3, "3", 5.0, {"workflow": "screen"}),
    ):
        arrived = START + timedelta(days=day)
        filed_at = arrived + timedelta(seconds=took_s)
        values = {"job": job, "arrived": arrived.isoformat(), "filed_at": filed_at, **more}
        history.remember(make.filed(ticket(day), **values))
    found = history.lately(since=START)
    assert found.given == {
        ("liquid-plate", "held"): 2,
        ("liquid-plate", "approved"): 1,
        ("screen", "approved"): 1,
    }
    assert found.held_by == {"job.complete": 2, "meter.known": 1}
    assert (found.median_s, found.longest_s) == (4.0, 20.0)
    assert history.lately(since=START + timedelta(days=3)).given == {("screen", "approved"): 1}


def test_outcomes_before_the_moment_are_left_out(history):
    later = history.outcomes(since=START + timedelta(days=7))
    assert later == history.outcomes(since=START)[7:]
    assert len(later) == 2


def test_films_behind_an_event_are_those_recorded_since_whenever_they_arrived(history, make):
    seen = history.head().sequence
    assert history.films(since=START, after=seen) == ()
    history.remember(film(make, 4.5, job="late", workflow="screen"))
    history.remember(film(make, 9, job="new", workflow="screen"))
    found = history.films(since=START, after=seen)
    assert [entry.job for entry in found] == ["late", "new"]
    assert history.films(since=START, after=seen, workflow="liquid-plate") == ()
    later = history.films(since=START + timedelta(days=5), after=seen)
    assert [entry.job for entry in later] == ["new"]


@on_a_file
def test_films_behind_an_event_cost_the_same_however_many_lie_before_it(history, make, room):
    asked = []

    def keep(_connection, _cursor, statement, parameters, *_):
        asked.append((statement, parameters))

    seen = history.head().sequence
    history.remember(film(make, 9))
    event.listen(Engine, "before_cursor_execute", keep)
    try:
        history.films(since=START, after=seen, workflow="liquid-plate")
    finally:
        event.remove(Engine, "before_cursor_execute", keep)
    plans = [
        [row[3] for row in room.sql(f"EXPLAIN QUERY PLAN {words}", *values)]
        for words, values in asked
        if words.startswith("SELECT")
    ]
    first = [step for plan in plans for step in plan if step.startswith(("SCAN", "SEARCH"))]
    assert any("(site=? AND sequence>?)" in step for step in first)
    assert not [step for step in first if "ticket>?" in step or step.startswith("SCAN")], first


@on_a_file
def test_each_question_walks_an_index_and_never_the_whole_history(history, room):
    asked = []

    def keep(_connection, _cursor, statement, parameters, *_):
        asked.append((statement, parameters))

    event.listen(Engine, "before_cursor_execute", keep)
    try:
        history.films(since=START, workflow="screen", printer="P1")
        history.outcomes(since=START, workflow="screen")
        history.lately(since=START)
        list(history.each_film(since=START))
    finally:
        event.remove(Engine, "before_cursor_execute", keep)
    questions = [(words, values) for words, values in asked if words.startswith("SELECT")]
    assert len(questions) == 11
    for words, values in questions:
        plan = [row[3] for row in room.sql(f"EXPLAIN QUERY PLAN {words}", *values)]
        assert not [step for step in plan if step.startswith("SCAN")], plan
        assert [step for step in plan if "filed_at>?" in step or "ticket>?" in step], plan
