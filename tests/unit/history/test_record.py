from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from gatekeeper.history import EventKind, FiledSheet, HistoryAwayError, Reading, UnrecordableError
from gatekeeper.history.canonical import storable
from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome


def test_a_verdict_reads_back_as_it_was_given(room, make):
    history = room.open()
    one = make.filed("t001", concession="L. Orrin, 2026-11-20: proof only", was="held")
    history.remember(one)
    (past,) = history.job("1041")
    assert past.verdict == one.verdict
    assert past.line.filed_at == one.filed_at
    assert past.line.folder == "approved/liquid-plate/1041"
    assert (past.line.printer, past.line.film_lot, past.line.meter) == ("P1", "M5-0317", "T-04")
    assert past.line.newest


def test_readings_read_back_with_what_was_calculated(room, make):
    history = room.open()
    history.remember(make.filed())
    (film,) = history.negatives("1041")
    assert (film.sheet, film.ticket, film.separation) == ("1041.csv", "t001", "black")
    assert film.measured_at == make.NEGATIVE.measured.instant
    assert film.particulars["ruling_lpi"] == {"value": 65.0, "written": "65 lpi"}
    assert film.particulars["zeroed_on"] == "clear"
    assert film.particulars["measured"]["has_time"] is True
    clear, solid, tint, length = film.readings
    assert (clear.kind, clear.density, clear.net_density, clear.where) == (
        "clear",
        0.0,
        0.0,
        "left",
    )
    assert clear.place == "line 17"
    assert (solid.density, solid.net_density, solid.bound) == (2.91, 2.91, "at least")
    assert (tint.nominal, tint.dot_read_percent, tint.dot_percent) == (50.0, 50.8, 50.8)
    assert (length.nominal, length.length_mm, length.bound) == (600.0, 598.93, "exact")


def test_told_twice_it_is_recorded_once(room, make):
    history = room.open()
    history.remember(make.filed())
    before = room.dump()
    history.remember(make.filed())
    history.remember_many([make.filed(), make.filed(decision=Decision.HELD)])
    assert room.dump() == before


def test_sheets_whose_names_are_no_text_are_known_again(room, make):
    history = room.open()
    one = make.filed()
    sheets = tuple(replace(sheet, name="\udcff.csv") for sheet in one.verdict.sheets)
    read = tuple(replace(sheet, name="\udcff.csv") for sheet in one.sheets)
    history.remember(replace(one, verdict=replace(one.verdict, sheets=sheets), sheets=read))
    assert [film.sheet for film in history.negatives("1041")] == [storable("\udcff.csv")]


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(order=st.permutations(range(5)), again=st.lists(st.integers(0, 4), max_size=5))
def test_whatever_order_and_repetition_the_answers_are_the_same(new_room, make, order, again):
    room = new_room()
    decisions = [Decision.HELD, Decision.APPROVED] * 3
    all_filed = [
        make.filed(f"t00{n}", decision=decisions[n], job=("A1", "B2")[n % 3 > 1]) for n in range(5)
    ]
    history = room.open()
    for index in (*order, *again):
        history.remember(all_filed[index])
    assert {line.ticket for line in history.jobs()} == {"t004", "t002"}
    assert [past.line.ticket for past in history.job("A1")] == ["t004", "t003", "t001", "t000"]
    assert (history.counts().approved, history.counts().held) == (0, 2)
    assert history.verify().broken is None
    assert history.verify().events == 6  # the beginning, and each verdict once


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@example(told=[0, 1, 2, 3, 4, 5, 6, 7], cut=0)
@example(told=[7, 7, 6, 3, 0, 0], cut=2)
@given(told=st.lists(st.integers(0, 7), min_size=1, max_size=10), cut=st.integers(0, 9))
def test_told_in_groups_the_tables_are_as_if_told_one_by_one(new_room, make, told, cut):
    jobs = [_of_many_kinds(make, number) for number in range(8)]
    alone, grouped = new_room(), new_room()
    one_by_one, in_groups = alone.open(), grouped.open()
    for index in told:
        one_by_one.remember(jobs[index])
    for group in (told[:cut], told[cut:]):
        in_groups.remember_many(jobs[index] for index in group)
    assert _rows_of(grouped) == _rows_of(alone)
    assert in_groups.verify().broken is None


def _rows_of(room):
    return {table: sorted(rows, key=repr) for table, rows in room.dump().items()}


def _of_many_kinds(make, number):
    """Return a verdict on one of three jobs; some are without readings, some cover two sheets."""
    ticket, workflow = f"t00{number}", ("liquid-plate", "stencil")[number > 4]
    more = {"sheets": ()} if number % 3 == 0 else {}
    one = make.filed(
        ticket,
        job=("A1", "B2", "C3")[number % 3],
        workflow=workflow,
        folder=f"held/shelf/{number % 3}",
        decision=(Decision.HELD, Decision.APPROVED)[number % 2],
        rules_fingerprint=f"{number % 4}" * 64,
        rules_text="" if number == 4 else f"written by {number}",
        **more,
    )
    before = make.sheet(f"t00{number - 3}")
    covers = (replace(before, current=False), *one.verdict.sheets) if number > 2 else ()
    return replace(one, verdict=replace(one.verdict, sheets=covers or one.verdict.sheets))


TEXT = st.text(st.characters(exclude_categories=()), max_size=12)  # lone surrogates and NUL too
NUMBERS = st.one_of(st.none(), st.floats(), TEXT)


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@example(words=["caf\udce9"] * 6, measured="\udce9", off=None)  # a name in an old encoding
@example(words=["a\0b"] * 6, measured=float("inf"), off=float("nan"))
@given(words=st.lists(TEXT, min_size=6, max_size=6), measured=NUMBERS, off=st.none() | st.floats())
def test_whatever_the_text_and_numbers_it_is_recorded_once(new_room, make, words, measured, off):
    room = new_room()
    history = room.open()
    finding = Finding(words[0], "r", Outcome.PASS, words[1], measured=measured, off=off)
    one = make.filed(
        "t1", job=words[2], folder=f"approved/w/{words[3]}", findings=(finding,), notes=(words[4],)
    )
    history.remember(one)
    history.remember(one)
    (past,) = history.job(words[2])
    assert past.verdict.job == storable(words[2])
    assert past.verdict.notes == (words[4],)
    (back,) = past.verdict.findings
    assert back.says == storable(words[1])
    if isinstance(measured, str):
        assert back.measured == storable(measured)
    elif measured is None or measured - measured == 0:
        assert back.measured == measured
    else:
        assert back.measured == str(measured)
    assert history.verify().broken is None


def test_a_later_verdict_is_the_last_word_even_when_told_first(room, make):
    history = room.open()
    history.remember(make.filed("t002", decision=Decision.APPROVED, was="held"))
    history.remember(make.filed("t001", decision=Decision.HELD))
    (line,) = history.jobs()
    assert (line.ticket, line.decision) == ("t002", Decision.APPROVED)
    assert (history.counts().approved, history.counts().held) == (1, 0)


def test_two_folders_of_one_number_are_two_jobs(room, make):
    history = room.open()
    history.remember(make.filed("t001", job="a1", decision=Decision.HELD))
    history.remember(make.filed("t002", job="A1"))
    assert {line.job for line in history.jobs()} == {"a1", "A1"}
    assert len(history.job("a1")) == 2


def test_a_sheet_is_recorded_once_however_often_it_is_judged(room, make):
    history = room.open()
    first, second = make.sheet("t001"), make.sheet("t002", "1041.2.csv")
    history.remember(make.filed("t001", sheets=(), decision=Decision.HELD))
    one = make.filed("t002")
    verdict = replace(one.verdict, sheets=(replace(first, current=False), second), measurements=2)
    both = (
        FiledSheet("1041.csv", make.SHEET, make.READINGS),
        FiledSheet("1041.2.csv", make.SHEET, make.READINGS),
    )
    history.remember(replace(one, verdict=verdict, sheets=both))
    newest, _ = history.job("1041")
    assert newest.verdict == verdict
    # The first came without readings, as after a crash; the second verdict brought them.
    assert [(film.sheet, len(film.readings)) for film in history.negatives("1041")] == [
        ("1041.csv", 4),
        ("1041.2.csv", 4),
    ]
    assert room.sql("SELECT count(*) FROM sheets") == [(2,)]
    assert room.sql("SELECT count(*) FROM readings") == [(8,)]


def test_rules_are_kept_once_with_the_text_first_seen(room, make):
    history = room.open()
    history.remember(make.filed("t001", rules_text="first"))
    history.remember(make.filed("t002", rules_text="moved by a line"))
    history.remember(make.filed("t003", rules_fingerprint="", rules_text=""))
    kept = history.rule_set("f" * 64)
    assert (kept.text, kept.first_seen) == ("first", make.filed("t001").filed_at)
    assert history.rule_set("unknown") is None
    assert room.sql("SELECT count(*) FROM rule_sets") == [(1,)]


def test_a_group_is_recorded_whole_or_not_at_all(room, make):
    history = room.open()
    history.remember(make.filed("t001"))
    before = room.dump()
    good, bad = make.filed("t002"), make.filed("t003", arrived="yesterday")
    with pytest.raises(UnrecordableError, match='t003 arrived at "yesterday"'):
        history.remember_many([good, bad])
    assert room.dump() == before


@pytest.mark.parametrize("arrived", ["", "2026-11-20T09:00:00", "0001-01-01T00:00:00+14:00"])
def test_an_arrival_that_is_no_moment_is_refused(room, make, arrived):
    with pytest.raises(UnrecordableError, match="cannot be recorded"):
        room.open().remember(make.filed(arrived=arrived))


def test_readings_of_a_sheet_that_the_verdict_does_not_know_are_refused(room, make):
    stray = FiledSheet("other.csv", make.SHEET)
    with pytest.raises(HistoryAwayError, match="other\\.csv is not among the sheets"):
        room.open().remember(make.filed(sheets=(stray,)))


def test_a_reading_of_a_negative_that_is_not_there_is_refused(room, make):
    wrong = FiledSheet("1041.csv", make.SHEET, (Reading(1, make.NEGATIVE.patches[0]),))
    with pytest.raises(HistoryAwayError, match="has no negative 1"):
        room.open().remember(make.filed(sheets=(wrong,)))


def test_a_measuring_date_at_the_end_of_the_calendar_does_not_stop_the_record(room, make):
    far = datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14)))
    moment = replace(make.NEGATIVE.measured, instant=far)
    negative = replace(make.NEGATIVE, measured=moment)
    sheet = FiledSheet("1041.csv", replace(make.SHEET, negatives=(negative,)), make.READINGS)
    history = room.open()
    history.remember(make.filed(sheets=(sheet,)))
    (film,) = history.negatives("1041")
    assert film.measured_at is None
    assert film.particulars["measured"]["instant"] == "0001-01-01T00:00:00+14:00"


def test_negatives_of_two_printers_are_listed_with_both(room, make):
    other = replace(make.NEGATIVE, printer=replace(make.NEGATIVE.printer, value="P2"))
    sheet = FiledSheet("1041.csv", replace(make.SHEET, negatives=(make.NEGATIVE, other, other)))
    history = room.open()
    history.remember(make.filed(sheets=(sheet,)))
    (line,) = history.jobs()
    assert (line.printer, line.meter) == ("P1, P2", "T-04")
    assert [film.readings for film in history.negatives("1041")] == [(), (), ()]


def test_the_reason_is_the_first_finding_that_holds(room, make):
    history = room.open()
    unknown = Finding("meter", "meter.known", Outcome.NOT_JUDGED, "nobody knows the meter")
    history.remember(make.filed("t001", job="a", decision=Decision.HELD))
    history.remember(make.filed("t002", job="b", decision=Decision.HELD, findings=(unknown,)))
    history.remember(make.filed("t003", job="c"))
    assert [line.reason for line in history.jobs()] == [
        "", "nobody knows the meter", "the solid lets light through",
    ]  # fmt: skip


def test_every_job_has_its_event(room, make):
    history = room.open()
    history.remember(make.filed("t001"))
    told = history.note(EventKind.START, "daemon", {"program": "gatekeeper 0.1.0"})
    begun, verdict, start = history.events()
    assert [event.kind for event in (begun, verdict, start)] == [
        "history begun",
        "verdict",
        "start",
    ]
    assert [event.sequence for event in history.events(after=1, limit=1)] == [2]
    assert verdict.subject == "1041"
    assert '"ticket":"t001"' in verdict.document
    assert verdict.previous_sha256 == begun.sha256
    assert history.head() == told == start
    assert history.jobs()[0].sequence == verdict.sequence


def test_moments_come_back_in_utc(room, make):
    history = room.open()
    east = timezone(timedelta(hours=5, minutes=30))
    when = datetime(2026, 11, 20, 14, 30, 0, 125, tzinfo=east)
    history.remember(make.filed(arrived="2026-11-20T14:00:00+05:30", filed_at=when))
    (line,) = history.jobs()
    assert line.filed_at == when
    assert line.filed_at.tzinfo is UTC
    assert line.arrived_at == datetime(2026, 11, 20, 8, 30, tzinfo=UTC)


def test_each_site_has_its_own_rows_and_chain(room, make):
    north, south = room.open("north"), room.open("south")
    north.remember(make.filed("t001"))
    south.remember(make.filed("t001", site="south", decision=Decision.HELD))
    assert [line.decision for line in north.jobs()] == [Decision.APPROVED]
    assert [line.decision for line in south.jobs()] == [Decision.HELD]
    assert [event.sequence for event in south.events()] == [1, 2]
    assert south.verify().broken is None
    assert not south.has_ticket("t002")
    assert isinstance(south.job("1041")[0].verdict.sheets[0], JudgedSheet)
