from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest

from gatekeeper.filing.tickets import (
    Identity,
    Sequence,
    Ticket,
    identity_of,
    made_at,
    ticket_of,
)

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
SHEET = Identity("1041.csv", 300, 1_700_000_000_000_000_000, 77)
TICKET = Ticket(
    id="20261124T170000.000000Z-00c0ffee",
    gate="gate-1",
    kind="sheet",
    workflow="liquid-plate",
    arrived="2026-11-24T17:00:00+00:00",
    job_hint="1041",
    sheet=SHEET,
    companions=(Identity("1041/gr\udcfcn.pdf", 1, 2, 3),),
)


def changed(**changes) -> bytes:
    return json.dumps(json.loads(TICKET.to_bytes()) | changes).encode()


def test_ticket_reads_back_as_it_was_written():
    assert ticket_of(TICKET.to_bytes()) == TICKET


def test_ticket_of_an_older_program_lacks_what_came_later():
    data = json.loads(TICKET.to_bytes())
    del data["came_as"], data["refusal"]
    assert ticket_of(json.dumps(data).encode()) == TICKET


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        TICKET.to_bytes()[:-10],
        b"\xff\xfe",
        changed(id=7),
        changed(workflow="../elsewhere"),
        changed(arrived="yesterday"),
        changed(sheet={"name": "a", "size": "large", "mtime_ns": 1, "inode": 1}),
        changed(sheet={"name": "../../etc/passwd", "size": 1, "mtime_ns": 1, "inode": 1}),
        changed(sheet={"name": "a//b", "size": 1, "mtime_ns": 1, "inode": 1}),
        changed(sheet={"name": "a\0", "size": 1, "mtime_ns": 1, "inode": 1}),
        changed(companions=7),
        changed(something="else"),
    ],
)
def test_what_is_no_ticket_is_none(content):
    assert ticket_of(content) is None


def test_file_is_itself_by_size_time_and_inode(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"bytes")
    known = identity_of("x", path.stat())
    assert known.is_of(path.stat())
    assert not known.is_of(None)
    assert not Identity("x", 5, known.mtime_ns, known.inode + 1).is_of(path.stat())
    assert not Identity("x", 6, known.mtime_ns, known.inode).is_of(path.stat())
    assert not Identity("x", 5, known.mtime_ns + 1, known.inode).is_of(path.stat())


def test_file_on_a_share_that_renumbers_is_itself_without_its_inode(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"bytes")
    known = identity_of("x", path.stat(), has_inode=False)
    assert known.inode == 0
    assert known.is_of(path.stat())


def test_ids_sort_in_the_order_of_their_making_though_the_clock_is_set_back():
    sequence = Sequence()
    moments = [NOW, NOW, NOW - timedelta(days=400), NOW + timedelta(microseconds=1)]
    ids = [sequence.next(moment) for moment in moments]
    assert ids == sorted(set(ids))


def test_ids_go_on_behind_those_that_are_known():
    sequence = Sequence()
    sequence.follow(["20991231T235959.999999Z-aaaaaaaa", "", "no id", "20200101T000000.000000Z-b"])
    assert sequence.next(NOW) > "20991231T235959.999999Z-aaaaaaaa"


def test_id_carries_its_moment_in_utc():
    there = timezone(timedelta(hours=5))
    assert made_at(Sequence().next(NOW.astimezone(there))) == NOW
    assert made_at("folder made by hand") is None


def test_ticket_numbered_anew_keeps_the_place_of_its_sheet():
    later = TICKET.numbered_anew("20261125T000000.000000Z-00000000")
    assert (later.id, later.sheet_id) == ("20261125T000000.000000Z-00000000", TICKET.id)
    assert later.numbered_anew("20261126T000000.000000Z-00000000").sheet_id == TICKET.id
