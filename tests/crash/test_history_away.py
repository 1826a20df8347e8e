"""The history is away while jobs are filed: the gate goes on, and tells it everything once."""

from __future__ import annotations

import contextlib
import os
import sqlite3

import pytest
from disks import Died, DyingDisk
from plate_room import GOOD, WEAK, sheet

from gatekeeper.filing.disk import Disk
from gatekeeper.history import EventKind, Wait
from gatekeeper.record.refill import Refill

STEP = 1 if os.environ.get("GATEKEEPER_CRASH") == "whole" else 29


def history_file(room):
    return room.site.state / "history.sqlite"


@contextlib.contextmanager
def away(room):
    """Put a folder in the place of the history's file."""
    file = history_file(room)
    kept = file.with_name("kept")
    if file.exists():
        file.rename(kept)
    file.mkdir()
    yield
    file.rmdir()
    if kept.exists():
        kept.rename(file)


def untold(room) -> list[str]:
    outbox = room.site.state / "outbox"
    return sorted(path.name for path in outbox.iterdir()) if outbox.exists() else []


def file_twice(room, disk=None) -> None:
    """File a job as held, and again as approved: its folder moves in between."""
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    outlook = room.sweep(disk)
    assert any("the history is away" in alarm for alarm in outlook.alarms)
    room.drop("1041-again.csv", sheet(GOOD, operator="second"))
    room.sweep(disk)


def test_jobs_are_filed_without_a_history_and_each_verdict_is_told_once_it_is_back(room):
    with away(room):
        file_twice(room)
        assert room.decisions() == {"1041": "approved"}
        assert len(untold(room)) == 2
        assert "the history is away" in " ".join(room.verdict("1041")["notes"])
    outlook = room.sweep()  # nothing new is dropped
    assert outlook.is_done
    room.require_sound()
    with room.history() as history:
        decisions = [past.line.decision.value for past in history.job("1041")]
        assert decisions == ["approved", "held"]
        assert len(history.negatives("1041")) == 1  # the newest; the older sheet was told unread
    assert room.sweep().is_done
    room.require_sound()


def test_history_that_was_begun_anew_and_not_filled_is_filled_by_the_next_start(room):
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    history_file(room).unlink()
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    room.sweep()  # it ends before it fills what it has begun
    assert len(room.history_tickets()) == 1
    for is_first in (True, False):
        rounds = room.rounds()
        refill = Refill(room.site, rounds.ledger)
        assert bool(rounds.ledger.newest_ticket() and rounds.ledger.history.begun) is is_first
        refill.look()
        rounds.ledger.history.close()
        room.require_sound()


def test_late_companion_is_looked_for_again_once_a_history_begun_anew_is_filled(room):
    room.drop("scan-17.csv", sheet(GOOD))
    room.sweep()
    history_file(room).unlink()
    rounds = room.rounds()
    room.drop("scan-17.pdf", b"artwork")
    for _ in range(3):
        waiting = rounds.go().waiting
    assert [entry.name for entry in waiting] == ["scan-17.pdf"]
    Refill(room.site, rounds.ledger).look()
    assert rounds.go().waiting == []
    rounds.ledger.history.close()
    room.require_sound()


def test_history_that_is_locked_is_told_later(room):
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    holder = sqlite3.connect(history_file(room), isolation_level=None)
    holder.execute("begin immediate")
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    rounds = room.rounds(wait=Wait(lock_s=0.05, pause_s=0.0))
    for _ in range(3):
        outlook = rounds.go()
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
    assert len(untold(room)) == 1
    assert any("the history is away" in alarm for alarm in outlook.alarms)
    holder.execute("rollback")
    holder.close()
    assert rounds.go().is_done
    rounds.ledger.history.close()
    room.require_sound()


def test_program_that_dies_while_the_history_is_away_tells_it_everything_once(rooms):
    probe = rooms()
    disk = DyingDisk()
    with away(probe):
        file_twice(probe, disk)
    changes = disk.done
    for after in range(3, changes, STEP):
        room = rooms()
        with away(room):
            with contextlib.suppress(Died):
                file_twice(room, DyingDisk(after))
            while len(room.dropped) < 2:
                room.drop("1041-again.csv", sheet(GOOD, operator="second"))
            room.sweep()
        room.sweep()
        room.require_sound()


@pytest.mark.parametrize("after", range(2))
def test_program_that_dies_while_it_catches_up_tells_everything_once(room, after):
    with away(room):
        file_twice(room)
    with pytest.raises(Died):
        room.sweep(DyingDisk(after))
    assert untold(room)
    room.sweep()
    room.require_sound()


def test_readings_that_another_job_used_are_held_and_said_to_be(room):
    readings = sheet(GOOD, job=None)
    room.drop("1041.csv", readings)
    room.sweep()
    room.drop("1042.csv", readings)
    room.sweep()
    assert 'already used for job "1041"' in room.says("1042")
    assert "already used" not in room.says("1041")


def events_of(room) -> list[tuple[str, str]]:
    with room.history() as history:
        return [(event.kind, event.subject) for event in history.events()]


def test_events_wait_among_the_verdicts_and_are_told_in_order(room):
    ledger = room.rounds().ledger
    with away(room):
        ledger.note(EventKind.START, "gate-1", {"program": "of the test"})
        file_twice(room)
        ledger.note(EventKind.RULES, "north", {"files": {}})
        ledger.note(EventKind.STOP, "gate-1", {})
        assert len(untold(room)) == 5
    assert room.sweep().is_done
    assert untold(room) == []
    kinds = [kind for kind, _ in events_of(room)]
    assert kinds == ["history begun", "start", "verdict", "verdict", "rules changed", "stop"]
    room.require_sound()


def test_event_that_was_told_and_not_crossed_off_is_told_once(room):
    ledger = room.rounds().ledger
    with away(room):
        ledger.note(EventKind.START, "gate-1", {})
        (name,) = untold(room)
        content = (room.site.state / "outbox" / name).read_bytes()
    room.sweep()
    (room.site.state / "outbox" / name).write_bytes(content)  # as a kill leaves it
    room.sweep()
    assert untold(room) == []
    assert [kind for kind, _ in events_of(room)] == ["history begun", "start"]


def test_long_tale_does_not_keep_new_jobs_waiting(room, monkeypatch):
    monkeypatch.setattr("gatekeeper.record.ledger.AT_ONCE", 1)
    monkeypatch.setattr("gatekeeper.record.ledger.AT_MOST", 2)
    with away(room):
        for number in range(5):
            room.drop(f"J{number}.csv", sheet(GOOD, job=f"J{number}", operator=f"{number}"))
        room.sweep()
    assert len(untold(room)) == 5
    rounds = room.rounds()
    left = []
    for _ in range(3):
        rounds.go()
        left.append(len(untold(room)))
    assert left == [3, 1, 0]
    rounds.ledger.history.close()


def test_outbox_is_not_read_through_while_the_history_stays_away(room, monkeypatch):
    monkeypatch.setattr("gatekeeper.record.ledger.AT_ONCE", 1)
    with away(room):
        file_twice(room)
        reads = []
        disk = Disk()
        monkeypatch.setattr(disk, "read", _counting(disk.read, reads))
        room.sweep(disk)
        assert len([path for path in reads if path.parent.name == "outbox"]) == 1


def _counting(read, reads):
    def count(path, *more):
        reads.append(path)
        return read(path, *more)

    return count
