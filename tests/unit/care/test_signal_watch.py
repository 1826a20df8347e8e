"""What the gate is told of the control charts, and what it costs to know it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from readings import START, film, quiet, reading

from gatekeeper.care.signal_watch import AWAY, NO_PLACE, SignalWatch
from gatekeeper.case import Case, JobSheet
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.register.register import read_register
from gatekeeper.room import book_of
from gatekeeper.sheet import Moment, Negative, Sheet, SheetKind, Text
from gatekeeper.signals import Signals
from gatekeeper.site import site_of

LONDON = ZoneInfo("Europe/London")
REGISTER = b"""
stocks: {matte-5mil: {kind: ink film}}
lots: {M5-0317: {stock: matte-5mil}, M5-0318: {stock: matte-5mil}}
printers: {P1: {}, P2: {}}
"""
CURVE = b"""
curves:
  - {workflow: liquid-plate, printer: P1, stock: matte-5mil, linearized: 2026-09-14}
"""
WORKFLOW = b"workflow: liquid-plate\nreading: negative\ntints: [{nominal: 50, tolerance: 2.0}]\n"
LEFT = [*quiet(24), *quiet(16, 51.0)]


class Past:
    """A history that counts what it is asked, and can go away."""

    def __init__(self, films=()):
        self.rows = list(films)
        self.told = []  # how many films each question was answered with
        self.error = None

    def head(self):
        if self.error:
            raise self.error
        return SimpleNamespace(sequence=len(self.rows)) if self.rows else None

    def films(self, *, since, workflow, after=0):
        found = [
            row
            for number, row in enumerate(self.rows, start=1)
            if number > after and row.workflow == workflow and row.arrived_at >= since
        ]
        self.told.append(len(found))
        return tuple(found)

    def each_film(self, *, since, workflow):
        return iter(self.films(since=since, workflow=workflow))


class Clock:
    moment = START + timedelta(days=20)

    def now(self):
        return self.moment


def printed(value, number, **changes):
    readings = (
        reading("solid", net=2.9),
        reading("tint", nominal=50.0, read=value),
    )
    when = START + timedelta(hours=8 * number)
    values = {"job": f"J{number}", "day": number / 3, "printed": when, **changes}
    return film(readings, **values)


def films(values, **changes):
    return [printed(value, number, **changes) for number, value in enumerate(values)]


def book(tmp_path, curves=b""):
    files = {"register/all.yaml": REGISTER + curves, "workflows/liquid-plate.yaml": WORKFLOW}
    assert read_register({"register/all.yaml": REGISTER + curves})[1] == ()
    return book_of(site_of(tmp_path, b"site: Ferrybank\n"), files)


def job(printer="P1", lot="M5-0317", **changes):
    when = START + timedelta(days=15)
    negative = Negative(
        printer=Text(printer) if printer else None,
        film_lot=Text(lot),
        separation=Text("Black"),
        printed=Moment(when, str(when), has_time=True),
    )
    sheet = JobSheet("1.csv", "0", "t", Sheet(SheetKind.NEGATIVE, (negative,)))
    case = Case("t", "1041", "liquid-plate", (sheet,), when, LONDON)
    return replace(case, **changes)


@pytest.fixture
def site(tmp_path):
    return book(tmp_path)


def shown(watch, site, case=None):
    found = watch.of(case or job(), site.library, site.register)
    return {signal.quantity: signal.signs for signal in found["black"].standing}


def test_a_level_that_has_left_is_told_with_its_words(site):
    watch = SignalWatch(Past(films(LEFT)), dict, Clock())
    (signal,) = watch.of(job(), site.library, site.register)["black"].standing
    assert signal.words.startswith("mid-tone: level")
    assert signal.says.startswith(
        "mid-tone on P1 (matte-5mil, liquid-plate) has stood 1.0 points above its base period since"
    )


def test_spelling_of_a_printer_is_no_way_round_its_signal(site):
    watch = SignalWatch(Past(films(LEFT)), dict, Clock())
    assert shown(watch, site, job(printer="p1")) == shown(watch, site)


def test_other_printers_lots_and_curves_have_charts_of_their_own(site, tmp_path):
    watch = SignalWatch(Past(films(LEFT)), dict, Clock())
    assert shown(watch, site, job(printer="P2")) == {}
    assert shown(watch, site, job(lot="M5-0318")) == {}
    assert shown(watch, book(tmp_path, CURVE)) == {}  # a curve of the day before this film


def test_a_job_costs_what_was_recorded_since_the_last_one_whoever_recorded_it(site):
    past = Past(films(LEFT[:30]))
    watch = SignalWatch(past, dict, Clock())
    for number in range(30, 40):
        shown(watch, site)
        past.rows.append(printed(LEFT[number], number))
    assert past.told == [30, *[1] * 9]
    shown(watch, site)
    shown(watch, site)
    assert past.told == [30, *[1] * 10]  # nothing new is not even asked for


def test_a_restart_sees_what_was_followed_one_by_one(site):
    past = Past()
    watch = SignalWatch(past, dict, Clock())
    for row in films(LEFT):
        past.rows.append(row)
        found = watch.of(job(), site.library, site.register)
        assert found == SignalWatch(past, dict, Clock()).of(job(), site.library, site.register)


@pytest.mark.parametrize("kept", [1_000, 8])
@pytest.mark.parametrize("what", ["measured again", "late", "told twice"])
def test_films_out_of_their_order_end_where_a_whole_look_ends(site, what, kept, monkeypatch):
    monkeypatch.setattr("gatekeeper.care.signal_watch.MOST_PRINTS", kept)
    past = Past(films(LEFT))
    watch = SignalWatch(past, dict, Clock())
    before = shown(watch, site)
    again = {
        "measured again": [printed(value, 24 + row) for row, value in enumerate(quiet(16))],
        "late": [printed(51.9, 5.5, job="late")],
        "told twice": [past.rows[-1]],
    }[what]
    past.rows += again
    after = shown(watch, site)
    assert after == shown(SignalWatch(past, dict, Clock()), site)
    assert (after == {}) == (what == "measured again")
    assert before == {"mid-tone": before["mid-tone"]}


def test_the_window_moves_with_the_day_and_an_edit_of_the_register_is_taken_up(site, tmp_path):
    past, clock = Past(films(LEFT)), Clock()
    watch = SignalWatch(past, dict, clock)
    shown(watch, site)
    clock.moment += timedelta(days=1)
    assert shown(watch, site)
    edited = book(tmp_path)
    assert shown(watch, edited)
    assert past.told == [40, 40, 40]
    clock.moment += timedelta(days=80)
    assert shown(watch, edited) == {}


def test_a_history_that_is_away_is_said_and_asked_again_when_it_is_back(site):
    past = Past(films(LEFT))
    watch = SignalWatch(past, dict, Clock())
    past.error = HistoryAwayError("locked")
    assert watch.of(job(), site.library, site.register) == {"black": AWAY}
    past.error = None
    assert shown(watch, site)


def test_a_history_begun_anew_is_read_from_its_beginning(site):
    past = Past(films(LEFT))
    watch = SignalWatch(past, dict, Clock())
    assert shown(watch, site)
    past.rows = past.rows[:10]
    assert shown(watch, site) == {}


def test_where_nothing_was_judged_yet_nothing_stands(site):
    past = Past()
    past.error = NoHistoryYetError("none")
    watch = SignalWatch(past, dict, Clock())
    assert watch.of(job(), site.library, site.register) == {"black": Signals()}


def test_a_film_without_a_known_place_is_not_known(site):
    watch = SignalWatch(Past(films(LEFT)), dict, Clock())
    for case in (job(printer=None), job(lot="M5-9999")):
        assert watch.of(case, site.library, site.register) == {"black": NO_PLACE}


def test_what_was_taken_in_while_nobody_waited_is_not_asked_for_again(site):
    past = Past(films(LEFT))
    watch, zone = SignalWatch(past, dict, Clock()), LONDON
    watch.catch_up(site.library, site.register, zone)
    assert past.told == []  # of a workflow that nobody asked about
    shown(watch, site)
    past.rows.append(printed(51.0, len(LEFT)))
    watch.catch_up(site.library, site.register, zone)
    assert past.told == [len(LEFT), 1]
    standing = shown(watch, site)
    assert past.told == [len(LEFT), 1]
    assert standing == shown(SignalWatch(past, dict, Clock()), site)


def test_a_history_that_goes_while_nobody_waits_is_asked_all_when_it_is_back(site):
    past = Past(films(LEFT))
    watch = SignalWatch(past, dict, Clock())
    standing = shown(watch, site)
    past.error = HistoryAwayError("locked")
    watch.catch_up(site.library, site.register, LONDON)
    past.error = None
    assert shown(watch, site) == standing
    assert past.told == [len(LEFT), len(LEFT)]
