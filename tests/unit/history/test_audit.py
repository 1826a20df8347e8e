import hashlib
import json

import pytest

from gatekeeper.history import HistoryAwayError
from gatekeeper.verdict import Decision


@pytest.fixture
def history(room, make):
    """Events 1 (begun) to 6 (the fifth verdict)."""
    history = room.open()
    for number in range(1, 6):
        history.remember(make.filed(f"t00{number}", job=f"J{number}", decision=Decision.HELD))
    return history


def test_an_untouched_chain_is_sound(history):
    report = history.verify()
    assert (report.events, report.broken, report.head) == (6, None, history.head().sha256)


def test_a_hash_is_the_sha256_of_what_the_event_says(history):
    # Computed here from the row alone, with hashlib (FIPS 180-4) and json of the standard library.
    event = history.events(after=1, limit=1)[0]
    said = ["north", 2, event.at, "verdict", "J1", event.document, event.previous_sha256]
    text = json.dumps(said, separators=(",", ":"))
    assert event.sha256 == hashlib.sha256(text.encode()).hexdigest()


COPY = (
    "{verb} INTO events SELECT site, {number}, at, kind, 'x', document, previous_sha256, sha256"
    " FROM events WHERE sequence = 6"
)
SWAP = (
    "UPDATE events SET sequence = CASE sequence WHEN 3 THEN -4 ELSE -3 END"
    " WHERE sequence IN (3, 4);UPDATE events SET sequence = -sequence WHERE sequence < 0"
)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET subject = 'x' WHERE sequence = 3",
        "DELETE FROM events WHERE sequence = 6",
        COPY.format(verb="INSERT", number=3),
        COPY.format(verb="INSERT", number=9),
    ],
)
def test_the_database_refuses_every_change_of_an_event(history, room, statement):
    before = history.events()
    with pytest.raises(Exception, match=r"events are (never|only)"):
        room.sql(statement)
    assert history.events() == before


@pytest.mark.parametrize(
    ("make_room_name", "statement"),
    [
        ("file_room", COPY.format(verb="INSERT OR REPLACE", number=3)),
        ("server_room", f"{COPY.format(verb='INSERT', number=3)} ON CONFLICT DO NOTHING"),
        ("server_room", "TRUNCATE events CASCADE"),
    ],
)
def test_no_statement_of_one_database_gets_past_its_guard(request, make, make_room_name, statement):
    room = request.getfixturevalue(make_room_name)()
    with room.open() as history:
        history.remember_many(make.filed(f"t00{number}", job=f"J{number}") for number in range(6))
        before = history.events()
        with pytest.raises(Exception, match=r"events are (never|only)"):
            room.sql(statement)
        assert history.events() == before


@pytest.mark.parametrize(
    ("forgery", "sequence", "says"),
    [
        ("UPDATE events SET subject = 'J9' WHERE sequence = 3", 3, "event 3 was altered or moved"),
        ("UPDATE events SET at = '2026' WHERE sequence = 4", 4, "event 4 was altered or moved"),
        ("UPDATE events SET kind = 'stop' WHERE sequence = 1", 1, "event 1 was altered or moved"),
        ("UPDATE events SET document = '{}' WHERE sequence = 6", 6, "event 6 was altered"),
        ("DELETE FROM events WHERE sequence = 4", 4, "event 4 is missing"),
        ("DELETE FROM events WHERE sequence = 1", 1, "event 1 is missing"),
        (SWAP, 3, "event 3 was altered or moved"),
    ],
)
def test_the_first_altered_missing_or_moved_event_is_named(history, room, forgery, sequence, says):
    room.forge(*forgery.split(";"))
    report = history.verify()
    assert report.events == sequence - 1
    assert report.broken.sequence == sequence
    assert says in report.broken.says


@pytest.mark.parametrize(
    ("forgery", "sequence", "says"),
    [
        ("UPDATE events SET document = x'00' WHERE sequence = 5", 5, "event 5 was altered"),
        ("UPDATE events SET sequence = 'x' WHERE sequence = 6", 6, "event 6 is missing"),
    ],
)
def test_what_only_sqlite_lets_into_a_column_is_found(file_room, make, forgery, sequence, says):
    room = file_room()
    with room.open() as history:
        history.remember_many(make.filed(f"t00{number}", job=f"J{number}") for number in range(5))
        room.forge(forgery)
        broken = history.verify().broken
    assert broken.sequence == sequence
    assert says in broken.says


def test_an_event_replaced_with_a_hash_of_its_own_is_found_by_the_next_one(history, room):
    event = history.events(after=2, limit=1)[0]
    said = ["north", 3, event.at, "verdict", "J9", event.document, event.previous_sha256]
    forged = hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()
    room.forge(f"UPDATE events SET subject = 'J9', sha256 = '{forged}' WHERE sequence = 3")  # noqa: S608
    report = history.verify()
    assert report.broken.sequence == 4
    assert "does not follow the one before" in report.broken.says


def test_a_cut_off_end_is_found_by_a_hash_that_a_report_carries(history, room):
    head = history.head().sha256
    assert history.verify(seen_sha256=head).broken is None
    room.forge("DELETE FROM verdicts WHERE sequence = 6", "DELETE FROM events WHERE sequence = 6")
    assert history.verify().broken is None  # the chain alone cannot show it
    assert f"no event has the hash {head}" in history.verify(seen_sha256=head).broken.says


@pytest.mark.parametrize(
    ("forgery", "sequence", "says"),
    [
        ("UPDATE verdicts SET decision = 'approved' WHERE ticket = 't003'", 4, "decision of the"),
        ("UPDATE verdicts SET filed_at = '2020-01-01 00:00:00.000000' WHERE id = 1", 2, "filed_at"),
        ("UPDATE verdicts SET reason = 'fine' WHERE ticket = 't005'", 6, "reason of the verdict"),
        ("UPDATE verdicts SET sequence = 1 WHERE ticket = 't002'", 1, "t002 has no event"),
        ("DELETE FROM verdicts WHERE ticket = 't004'", 5, "the verdict on job J4 is missing"),
    ],
)
def test_a_verdict_that_differs_from_its_event_is_named(history, room, forgery, sequence, says):
    room.forge(forgery)
    report = history.verify()
    assert report.broken.sequence == sequence
    assert says in report.broken.says


def test_a_verdict_slipped_in_without_an_event_is_named(history, room):
    columns = [f'"{name}"' for name in room.columns("verdicts") if name != "id"]
    changed = {'"ticket"': "'t9'", '"sequence"': "99"}
    chosen = ", ".join(changed.get(name, name) for name in columns)
    room.forge(f"INSERT INTO verdicts ({', '.join(columns)}) SELECT {chosen} FROM verdicts LIMIT 1")  # noqa: S608
    assert "ticket t9 has no event" in history.verify().broken.says


def test_a_moment_that_is_none_is_said_in_words(file_room, make):
    room = file_room()
    history = room.open()
    history.remember(make.filed("t003"))
    room.sql("UPDATE verdicts SET filed_at = 'soon' WHERE ticket = 't003'")
    with pytest.raises(HistoryAwayError, match="cannot be understood"):
        history.jobs()
