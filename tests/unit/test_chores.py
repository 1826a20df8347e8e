"""The daily work, with a clock that the test moves, a real history and real files."""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path

import pytest

from gatekeeper.errors import RoomError
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.trouble import OfflineError
from gatekeeper.history import open_history
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.site import read_site
from gatekeeper.upkeep.chores import CHECK, PAUSE_S, Chores
from gatekeeper.upkeep.copies import superseded
from gatekeeper.upkeep_settings import UpkeepBlock

EVENING = datetime(2026, 11, 20, 20, 0, tzinfo=UTC)


class ScriptedClock:
    def __init__(self):
        self.moment = EVENING
        self.seconds = 0.0

    def now(self):
        return self.moment

    def monotonic(self):
        return self.seconds

    def go(self, **span):
        self.moment += timedelta(**span)
        self.seconds += timedelta(**span).total_seconds()


class FullDisk(Disk):
    """Refuses to make a file while it is full."""

    full = False

    def before(self, operation, *paths):
        if self.full and operation == "create":
            raise OSError(28, "No space left on device", str(paths[0]))


@cache
def pattern():
    """A site as `init` lays it out, made once and copied."""
    root = Path(tempfile.mkdtemp()) / "site"
    lay_out(root, Disk())
    atexit.register(shutil.rmtree, root.parent)
    return root


class Room:
    """A site with chores, and what came of them."""

    def __init__(self, root, **upkeep):
        shutil.copytree(pattern(), root)
        self.site = read_site(root)
        times = {
            "check_at": None,
            "digest_at": time(7, 0),
            "backup_at": time(22, 30),
            **upkeep,
        }
        settings = self.site.settings.model_copy(
            update={
                "upkeep": UpkeepBlock.model_construct(**{**UpkeepBlock().model_dump(), **times})
            }
        )
        self.site = replace(self.site, settings=settings)
        self.clock, self.disk = ScriptedClock(), FullDisk()
        self.book = read_book(self.site)
        self.history = open_history(
            f"sqlite:///{self.site.state / 'history.sqlite'}",
            base=self.site.root,
            site=self.site.mark,
            clock=self.clock,
            program="gatekeeper 0",
        )
        self.history.head()
        self.checks = 0
        self.chores = self.start()

    def start(self):
        return Chores(self.site, self.disk, self.clock, self.history, self.check)

    def check(self):
        self.checks += 1

    def work(self):
        return self.chores.work(self.book)

    def files(self, name):
        folder = self.site.state / name
        return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


@pytest.fixture
def room_with(tmp_path):
    """Make a room with the chores that the test asks for."""
    made = []

    def make(**upkeep):
        made.append(Room(tmp_path / "site", **upkeep))
        return made[-1]

    yield make
    for room in made:
        room.history.close()


@pytest.fixture
def room(room_with):
    return room_with()


def test_a_new_site_begins_with_the_next_times_and_not_with_those_that_have_passed(room):
    assert room.work() == []
    room.clock.go(hours=2, minutes=31)  # 22:31 in London's winter
    assert room.work() == ["backup"]
    room.clock.go(hours=9)  # 07:31
    assert room.work() == ["digest"]
    assert room.work() == []


def follow(room, **times):
    settings = room.site.settings
    upkeep = settings.upkeep.model_copy(update=times)
    room.site = replace(room.site, settings=settings.model_copy(update={"upkeep": upkeep}))
    room.chores.follow(room.site)


def test_a_time_that_is_moved_counts_from_its_next_run(room):
    room.work()
    room.clock.go(hours=12)  # 08:00: backup and digest are done
    room.work()
    follow(room, digest_at=time(7, 30))  # gone by already: tomorrow
    assert room.work() == []
    follow(room, digest_at=time(8, 30))
    room.clock.go(minutes=31)
    assert room.work() == ["digest"]
    room.chores = room.start()
    assert room.work() == []


def test_a_run_that_is_due_by_the_old_time_is_not_lost_by_an_edit(room):
    room.work()
    room.clock.go(hours=12)
    follow(room, digest_at=time(7, 30))
    assert sorted(room.work()) == ["backup", "digest"]


def test_a_task_that_is_taken_in_later_is_first_due_at_its_next_time(room):
    room.work()
    follow(room, archive_at=time(19, 0))
    assert room.work() == []
    room.clock.go(hours=23, minutes=1)
    assert "archive" in room.work()
    follow(room, archive_at=None)
    room.clock.go(days=3)
    assert "archive" not in room.work()
    follow(room, archive_at=time(19, 0))
    assert room.work() == []


def test_what_was_done_outlives_a_restart(room):
    room.work()
    room.clock.go(hours=3)
    assert room.work() == ["backup"]
    room.chores = room.start()
    assert room.work() == []


def test_days_that_were_missed_are_caught_up_once(room):
    room.work()
    room.clock.go(days=5)
    room.chores = room.start()
    assert room.work() == ["digest", "backup"]
    assert room.files("digests") == ["2026-11-25.html", "2026-11-25.txt"]
    room.clock.go(minutes=1)
    assert room.work() == []


def test_work_goes_on_daily_after_a_clock_that_was_ahead_by_a_year(room):
    room.work()
    room.clock.moment += timedelta(days=365)
    assert room.work() == ["digest", "backup"]
    room.clock.moment -= timedelta(days=365)
    assert room.work() == []
    room.chores = room.start()
    assert room.work() == []
    room.clock.go(hours=3)
    assert room.work() == ["backup"]
    room.clock.go(days=1)
    assert room.work() == ["digest", "backup"]
    assert "since 20 Nov 07:00" in (room.site.state / "digests/2026-11-21.txt").read_text()


def test_clock_that_is_set_back_and_right_again_does_nothing_twice(room):
    room.work()
    room.clock.go(hours=12)
    assert room.work() == ["digest", "backup"]
    room.clock.moment -= timedelta(days=3)
    assert room.work() == []
    room.clock.go(minutes=5)
    room.clock.moment += timedelta(days=3)
    assert room.work() == []


@pytest.mark.parametrize(
    "start", [datetime(2026, 10, 24, 12, tzinfo=UTC), datetime(2027, 3, 27, 12, tzinfo=UTC)]
)
@pytest.mark.parametrize("at", [time(0, 0), time(1, 30), time(7, 0)])
def test_days_of_23_and_25_hours_have_each_task_once(room_with, start, at):
    room = room_with(digest_at=at, backup_at=at)
    room.clock.moment = start
    room.work()
    done = []
    for _ in range(3 * 24 * 4):
        room.clock.go(minutes=15)
        done += room.work()
    assert done == ["digest", "backup"] * 3
    assert len(room.files("backups")) == 3
    assert len(room.files("digests")) == 3 * 2


def test_a_digest_counts_jobs_since_the_one_before(room):
    room.work()
    room.clock.go(days=5)
    room.work()
    text = (room.site.state / "digests/2026-11-25.txt").read_text()
    assert "since 20 Nov 07:00: 0 jobs approved" in text


def test_a_full_disk_is_told_and_tried_again_after_a_pause(room):
    room.work()
    room.clock.go(hours=3)
    room.disk.full = True
    (room.site.state / "backups").write_text("in the way")
    assert room.work() == []
    assert room.chores.troubles == ("backup: File exists",)
    room.disk.full = False
    (room.site.state / "backups").unlink()
    assert room.work() == [], "not before the pause is over"
    room.clock.go(seconds=PAUSE_S)
    assert room.work() == ["backup"]
    assert room.chores.troubles == ()


def test_one_chore_that_fails_does_not_keep_the_others(room):
    room.work()
    (room.site.state / "digests").write_text("in the way")
    room.clock.go(days=1, hours=3)
    assert room.work() == ["backup"]
    assert [trouble.split(":")[0] for trouble in room.chores.troubles] == ["digest"]


def test_a_fault_of_the_program_in_a_chore_does_not_end_the_gate(room, caplog):
    room.work()
    room.clock.go(days=1)
    assert room.chores.work(None) == ["backup"]  # a book that is none
    assert room.chores.troubles == ("digest: it failed inside the program; see the log",)
    assert "fault of the program" in caplog.text


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"digest": 7}', '{"digest": "2026-11-20"}'])
def test_damaged_notes_are_begun_anew_and_nothing_is_done_twice_over(room, damage):
    room.work()
    (room.site.state / "upkeep.json").write_text(damage)
    room.chores = room.start()
    assert room.work() == []
    assert set(json.loads((room.site.state / "upkeep.json").read_text())) == {"digest", "backup"}


def test_a_chore_that_nobody_asked_for_is_never_done(room_with):
    room = room_with(digest_at=None, backup_at=None)
    room.work()
    room.clock.go(days=3)
    assert room.work() == []
    assert room.files("backups") == []


def test_a_copy_of_the_history_is_whole_and_of_its_day(room):
    room.work()
    room.clock.go(hours=3)
    room.work()
    assert room.files("backups") == ["history-2026-11-20.sqlite"]
    copy = open_history(
        f"sqlite:///{room.site.state / 'backups/history-2026-11-20.sqlite'}",
        base=room.site.root,
        site=room.site.mark,
        clock=room.clock,
        program="gatekeeper 0",
    )
    assert copy.verify().broken is None
    assert copy.begun == ""
    copy.close()


def test_copies_grow_old_by_day_and_by_month(room_with):
    room = room_with(digest_at=None, keep_days=3, keep_months=2)
    room.work()
    foreign = room.site.state / "backups/mine.sqlite"
    for _ in range(15):
        room.clock.go(days=1)
        room.work()
    foreign.write_text("not ours to delete")
    (room.site.state / "backups/.history-2026-12-01.sqlite.x.new").write_text("cut off")
    room.clock.go(days=1)
    room.work()
    assert room.files("backups") == [
        "history-2026-11-21.sqlite",
        "history-2026-12-01.sqlite",
        "history-2026-12-04.sqlite",
        "history-2026-12-05.sqlite",
        "history-2026-12-06.sqlite",
        "mine.sqlite",
    ]
    room.history.close()


@pytest.mark.parametrize(
    ("keep_days", "keep_months", "kept"),
    [
        (1, 0, ["2026-11-20"]),
        (3, 0, ["2026-11-18", "2026-11-19", "2026-11-20"]),
        (1, 1, ["2026-11-02", "2026-11-20"]),
        (1, 2, ["2026-10-31", "2026-11-02", "2026-11-20"]),
    ],
)
def test_what_is_kept_is_counted_in_days_and_months(keep_days, keep_months, kept):
    days = ["2025-11-20", "2026-10-31", "2026-11-02", "2026-11-03", "2026-11-18", "2026-11-19",
            "2026-11-20"]  # fmt: skip
    names = [f"history-{day}.sqlite" for day in days]
    names += ["history-soon.sqlite", "other-2025-01-01.sqlite", "history-2025-01-01.txt"]
    gone = superseded(names, date(2026, 11, 20), keep_days, keep_months)
    assert [day for day in days if f"history-{day}.sqlite" not in gone] == kept
    assert set(gone) <= set(names[: len(days)])


def test_an_archive_that_is_away_is_an_alarm_and_not_an_empty_run(room_with):
    room = room_with(digest_at=None, backup_at=None, archive_at=time(23, 0))
    room.work()
    (room.site.archive / ".gatekeeper/site-id").unlink()
    room.clock.go(days=1)
    assert room.work() == []
    (trouble,) = room.chores.troubles
    assert trouble.startswith("archive: ")


def test_a_site_with_a_database_server_makes_no_copies_of_its_own(room):
    elsewhere = room.site.settings.model_copy(update={"history": "postgresql://db.example/x"})
    room.chores.site = replace(room.site, settings=elsewhere)
    room.work()
    room.clock.go(hours=3)
    room.work()
    assert room.files("backups") == []


# -- the check of approved ------------------------------------------------------------------------


def test_approved_is_checked_daily_unless_the_site_says_otherwise():
    assert UpkeepBlock().check_at == time(5, 30)


def test_what_the_check_finds_is_told_until_the_next_one(tmp_path, caplog):
    room = Room(tmp_path / "site", check_at=time(5, 30), digest_at=None, backup_at=None)
    room.work()
    room.clock.go(hours=10)
    assert (room.work(), room.checks) == ([CHECK], 1)
    wrong = "job 1041: it is not what was approved"
    room.chores.checked([wrong])
    assert room.chores.troubles == (wrong,)
    assert wrong in caplog.text
    room.chores.checked([])
    assert room.chores.troubles == ()
    room.history.close()


def test_check_that_is_not_possible_is_told_and_tried_again_after_a_pause(tmp_path):
    room = Room(tmp_path / "site", check_at=time(5, 30), digest_at=None, backup_at=None)
    room.work()
    room.chores.could_not_check(RoomError("the disk is old"))
    assert room.chores.troubles == (f"{CHECK}: the disk is old",)
    assert (room.work(), room.checks) == ([], 0)
    room.clock.go(seconds=PAUSE_S + 1)
    assert (room.work(), room.checks) == ([CHECK], 1)
    room.chores.checked([])
    assert room.chores.troubles == ()
    room.history.close()


def test_site_that_wants_no_daily_check_is_told_what_the_one_after_the_start_found(room):
    room.chores.checked(["job 1041: it is not what was approved"])
    room.chores.could_not_check(RoomError("the disk is old"))
    assert room.chores.troubles == (
        "job 1041: it is not what was approved",
        f"{CHECK}: the disk is old",
    )


def test_folder_that_is_away_is_told_by_the_rounds_and_checked_when_it_is_back(tmp_path):
    room = Room(tmp_path / "site", check_at=time(5, 30), digest_at=None, backup_at=None)
    room.work()
    room.chores.could_not_check(OfflineError("held is away"))
    assert room.chores.troubles == ()
    room.clock.go(seconds=PAUSE_S + 1)
    assert (room.work(), room.checks) == ([CHECK], 1)
    room.history.close()
