"""What nobody was told of is found all the same: the folders are looked at, only less often."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.rounds import arrivals
from gatekeeper.rounds.stillness import LOOKED_AGAIN_S
from gatekeeper.site import read_site
from gatekeeper.workshop import rounds_of

NOTES = "nothing that was measured\n"
SHEET = (
    "job,1041\ncustomer,Quillmark Cartons\nworkflow,liquid-plate\nseparation,black\n\n"
    "patch,density\nclear,0.00\nsolid,2.90\n"
)


class Clock:
    seconds = 0.0

    def now(self):
        return datetime(2026, 11, 24, 17, tzinfo=UTC) + timedelta(seconds=self.seconds)

    def monotonic(self):
        return self.seconds


class Room:
    """A room with a file that waits, and ears that hear what the test says."""

    def __init__(self, root):
        lay_out(root, Disk())
        site, self.clock = read_site(root), Clock()
        book = read_book(site)
        self.heard: object = 0
        self.rounds = rounds_of(
            site, self.clock, lambda: book, settle_s=0.0, heard=lambda _: self.heard
        )
        self.file = site.drop / "liquid-plate" / "1041.dat"
        self.file.write_text(NOTES)

    def go(self, after_s=15.0):
        """Go round after a while, twice for what has to be at rest; return what was filed."""
        self.clock.seconds += after_s
        filed = []
        for _ in range(2):
            self.clock.seconds += 0.01
            filed += self.rounds.go().filed
        return [job.job for job in filed]


@pytest.fixture
def room(tmp_path, monkeypatch):
    monkeypatch.setattr(arrivals, "is_of_this_machine", lambda _: True)
    room = Room(tmp_path / "site")
    for _ in range(3):
        assert room.go() == []
    yield room
    room.rounds.ledger.history.close()


def rewrite(room):
    """Write a sheet over a file: the names in its folder stay, and so do the folder's times."""
    with room.file.open("r+") as file:
        file.write(SHEET)


def test_what_was_heard_is_judged_at_once(room):
    rewrite(room)
    room.heard = 1
    assert room.go() == ["1041"]


def test_what_nobody_heard_is_judged_when_the_entries_are_due(room):
    rewrite(room)
    assert room.go() == []
    assert room.go(LOOKED_AGAIN_S) == ["1041"]


def test_where_nothing_has_to_rest_what_was_heard_is_looked_at_twice_in_one_round(room):
    rewrite(room)
    room.heard = 1
    assert [job.job for job in room.rounds.go().filed] == ["1041"]


def test_what_grows_between_the_two_looks_of_a_round_waits(room, monkeypatch):
    rewrite(room)
    begun = room.rounds.ledger.catch_up

    def grow():
        begun()
        with room.file.open("a") as file:
            file.write("solid,2.91\n")

    monkeypatch.setattr(room.rounds.ledger, "catch_up", grow)
    room.heard = 1
    outlook = room.rounds.go()
    assert outlook.filed == []
    assert [entry.is_settling for entry in outlook.waiting] == [True]


def test_a_new_name_is_found_at_the_next_round_though_nobody_heard(room):
    room.file.with_name("1042.dat").write_text(SHEET.replace("1041", "1042"))
    assert room.go() == ["1042"]


def test_where_nobody_listens_every_round_looks_at_every_entry(room):
    room.heard = None
    rewrite(room)
    assert room.go() == ["1041"]


def test_on_a_share_every_round_looks_at_every_entry(tmp_path, monkeypatch):
    monkeypatch.setattr(arrivals, "is_of_this_machine", lambda _: False)
    room = Room(tmp_path / "site")
    for _ in range(3):
        assert room.go() == []
    rewrite(room)
    assert room.go() == ["1041"]
    room.rounds.ledger.history.close()


def test_what_changes_in_a_dropped_folder_is_found_though_nobody_heard(room):
    inside = room.file.with_name("1043")
    inside.mkdir()
    (inside / "notes.dat").write_text(NOTES)
    for _ in range(3):
        assert room.go() == []
    (inside / "1043.dat").write_text(SHEET.replace("1041", "1043"))
    assert room.go() == ["1043"]
