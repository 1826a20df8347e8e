"""The page of three rooms that keep their history on one server, the real one."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape

import pytest

from gatekeeper.clock import SystemClock
from gatekeeper.room import read_book
from gatekeeper.screens.all_rooms import EVERY_S, AllRooms
from gatekeeper.screens.morning import digest_of
from gatekeeper.screens.page_files import Pages
from gatekeeper.screens.present import Present
from gatekeeper.site import read_site

THIN = ("clear,,0.00,,,left", "solid,,1.91,,,left", "solid,,1.88,,,centre", "solid,,1.90,,,right",
        "tint,50,,50.8,,centre")  # fmt: skip
PRESENT = Present(at="2026-11-24T17:00:00+00:00", process=1, program="x")


@pytest.fixture
def rooms(room, server_url, tmp_path):
    """Three rooms; the first is the one whose page is read."""
    made = [room, *(type(room)(tmp_path / name) for name in ("north", "tannery"))]
    for other in made[1:]:
        other.call("init", str(other.root))
    text = (room.root / "site.yaml").read_text() + f"\nhistory: {server_url}\n"
    for one in made:
        (one.root / "site.yaml").write_text(text)
    return made


@pytest.fixture
def keep():
    """Make what keeps a room's pages, looking at once and not beside the work."""
    made = []

    def keeper(room):
        made.append(Keeper(room))
        return made[-1]

    yield keeper
    for one in made:
        one.pages.end()


class SteppedClock(SystemClock):
    """Stands still until a test moves it."""

    def __init__(self):
        self.at = 1000.0

    def monotonic(self):
        return self.at


class Keeper:
    def __init__(self, room):
        self.room, self.clock = room, SteppedClock()
        site = read_site(room.root)
        self.looks = []
        self.rooms = AllRooms(site, self.clock, start=self._look)
        self.pages = Pages(site, self.clock, self.rooms)
        self.book = read_book(site)

    def _look(self, work):
        self.looks.append(self.clock.at)
        work()

    def follow(self, after_s=0.0):
        self.clock.at += after_s
        self.pages.follow(self.book, PRESENT, filed=False)
        return self

    @property
    def index(self):
        return (self.room.root / "state/page/index.html").read_text("utf-8")

    @property
    def path(self):
        return self.room.root / "state/page/rooms.html"

    @property
    def text(self):
        body = self.path.read_text("utf-8").partition("</style>")[2]
        return " ".join(unescape(re.sub("<[^>]+>", " ", body)).split())


def mark(room):
    return read_site(room.root).mark


def fill(room, sheet, prefix, bad=3, good=5):
    """File jobs: the bad ones on one film lot, the good ones on another."""
    for number in range(bad):
        job = f"{prefix}{number}"
        room.drop(f"{job}.csv", sheet(THIN, job=job, operator=job, film_lot="M5-0318"))
    for number in range(bad, bad + good):
        job = f"{prefix}{number}"
        room.drop(f"{job}.csv", sheet(job=job, operator=job, film_lot="M5-0317"))
    room.sweep(expect=None)


def test_one_lot_that_goes_bad_in_three_rooms_is_one_signal_on_the_page(rooms, sheet, keep):
    for number, one in enumerate(rooms):
        fill(one, sheet, f"{number}0")
    keeper = keep(rooms[0]).follow()
    assert 'href="rooms.html"' in keeper.index
    (signal,) = re.findall("ACT (.*?) 2 film lots were compared in 3 rooms", keeper.text)
    assert signal.startswith("film lot M5-0318: 9 of 9 jobs")
    assert "held at the first try in 3 rooms" in signal
    assert all(mark(one) in signal for one in rooms)
    assert signal.endswith("print no more on it until a strip of it has been measured")
    assert keeper.text.index(f"{mark(rooms[0])} (this room)") < keeper.text.index("HELD job 102")
    for one in rooms:
        assert f"{mark(one)} " in keeper.text
    assert keeper.text.count("38%: 3 of 8 jobs, in the long run 14% to 69%") == 3
    assert "HELD job 202: the" in keeper.text


def test_the_digest_of_a_room_has_the_others_that_it_names_and_the_lot_that_is_bad_in_all(
    rooms, sheet
):
    for number, one in enumerate(rooms):
        fill(one, sheet, f"{number}0", bad=3 + number)
    root = rooms[0].root
    clock = SystemClock()
    since = clock.now() - timedelta(hours=1)

    def digest():
        site = read_site(root)
        return digest_of(site, read_book(site), since, clock)

    found = digest()
    assert [(line.room, line.held, line.approved) for line in found.others] == sorted(
        (mark(one), 3 + number, 5) for number, one in enumerate(rooms) if number
    )
    assert "film lot M5-0318: 12 of 12 jobs" in found.news[0]
    (root / "site.yaml").write_text(
        (root / "site.yaml").read_text() + f"page_rooms: [{mark(rooms[2])}]\n"
    )
    (only,) = digest().others
    assert (only.room, only.first_pass.part, only.first_pass.whole) == (mark(rooms[2]), 5, 10)


def test_a_room_alone_on_the_server_has_no_such_page(rooms, sheet, keep):
    rooms[0].drop("1.csv", sheet(job="1"))
    rooms[0].sweep()
    keeper = keep(rooms[0]).follow()
    assert not keeper.path.exists()
    assert "rooms.html" not in keeper.index
    rooms[1].drop("2.csv", sheet(job="2"))
    rooms[1].sweep()
    keeper.follow(EVERY_S)
    assert "rooms.html" in keeper.index
    assert "1 more room" not in keeper.text


def test_a_history_of_the_rooms_own_is_never_asked_and_an_old_page_goes(room, keep):
    old = room.root / "state/page/rooms.html"
    old.parent.mkdir(parents=True, exist_ok=True)
    old.write_text("of a server that this room has left")
    keeper = keep(room).follow()
    assert keeper.rooms.seen is None
    assert not old.exists()


def test_site_yaml_chooses_rooms_and_a_name_that_nobody_has_is_an_alarm(rooms, sheet, keep):
    for number, one in enumerate(rooms):
        one.drop("1.csv", sheet(job=f"{number}1", customer="Nobody & Sons"))
        one.sweep(expect=None)
    settings = rooms[0].root / "site.yaml"
    wanted = f"page_rooms: [{mark(rooms[2])}, nowhere, {mark(rooms[0])}]\n"
    settings.write_text(settings.read_text() + wanted)
    text = keep(rooms[0]).follow().text
    assert "2 HELD in 2 rooms" in text
    assert text.index("job 21:") < text.index("job 01:")
    assert 'HELD job 01: no customer is called "Nobody & Sons"' in text
    assert "job 11" not in text
    assert "And 1 more room of this history" in text
    assert 'ALARM page_rooms: no room in this history is called "nowhere"' in text


def test_while_the_server_is_away_the_page_says_so_and_keeps_what_it_knew(
    rooms, sheet, keep, postgres_server
):
    for number, one in enumerate(rooms[:2]):
        one.drop("1.csv", sheet(job=f"{number}1", customer="Nobody & Sons"))
        one.sweep(expect=None)
    keeper = keep(rooms[0]).follow()
    assert "ALARM" not in keeper.text
    postgres_server.stop()
    keeper.follow(EVERY_S)
    assert "ALARM the shared history is away: the history's server is away" in keeper.text
    assert "What stands here is old" in keeper.text
    assert "HELD job 11" in keeper.text
    anew = keep(rooms[0]).follow()  # the gate starts while the server is away
    assert "ALARM the shared history is away" in anew.text
    assert "Nobody can tell while the history is away." in anew.text
    assert 'href="rooms.html"' in anew.index
    postgres_server.start()
    for one in (keeper, anew):
        one.follow(EVERY_S)
        assert "ALARM" not in one.text
        assert "HELD job 11" in one.text


def test_rooms_are_asked_at_most_every_few_minutes_and_weeks_read_again_only_for_news(
    rooms, sheet, keep
):
    for number, one in enumerate(rooms[:2]):
        one.drop("1.csv", sheet(job=f"{number}1"))
        one.sweep()
    keeper = keep(rooms[0])
    for _ in range(20):
        keeper.follow(EVERY_S / 20 - 0.1)
    assert len(keeper.looks) == 1
    here, there = (keeper.rooms.tallies[mark(one)] for one in rooms[:2])
    keeper.follow(EVERY_S)
    assert len(keeper.looks) == 2
    assert keeper.rooms.tallies[mark(rooms[1])] is there  # nothing was filed: not read again
    rooms[1].drop("2.csv", sheet(job="12", operator="XY"))
    rooms[1].sweep()
    keeper.follow(EVERY_S)
    assert keeper.rooms.tallies[mark(rooms[0])] is here
    assert keeper.rooms.tallies[mark(rooms[1])].counted.jobs == (0, 2)
    assert f"{mark(rooms[1])} 0 2" in keeper.text


def test_the_daemon_writes_the_page_and_says_on_it_when_it_stops(rooms, sheet, wait_for):
    for number, one in enumerate(rooms[:2]):
        one.drop("1.csv", sheet(job=f"{number}1"))
        one.sweep()
    path = rooms[0].root / "state/page/rooms.html"
    index = rooms[0].root / "state/page/index.html"
    with rooms[0].daemon():
        wait_for(path.is_file)
        assert "gate was stopped" not in path.read_text("utf-8")
        wait_for(lambda: index.is_file() and 'href="rooms.html"' in index.read_text("utf-8"))
    text = path.read_text("utf-8")
    assert "NOTHING IS JUDGED: the gate was stopped at" in text
    assert "This page is not renewed any more" in text
    assert 'href="rooms.html"' in index.read_text("utf-8")
