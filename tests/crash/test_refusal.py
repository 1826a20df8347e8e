"""The disk refuses one change after another, once and for good; the gate stays up and goes on."""

from __future__ import annotations

import errno
import os
from types import SimpleNamespace

import pytest
from disks import DyingDisk, RefusingDisk, SharedDisk
from plate_room import GOOD, sheet
from scenarios import SCENARIOS
from test_death import changes_of, play, require_outcome

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
STEP = 1 if WHOLE else 101
ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_change_that_is_refused_makes_jobs_wait_and_nothing_else(
    scenario, rooms, elsewhere, for_good
):
    if not WHOLE and SCENARIOS.index(scenario) % 2 == for_good:
        pytest.skip("one of the two ways is enough for a sample")
    changes = changes_of(scenario, scenario.room(rooms, elsewhere))
    for after in range(len(scenario.name) % STEP, changes, STEP):
        room = scenario.room(rooms, elsewhere)
        number = ERRORS[after % len(ERRORS)]
        disk = RefusingDisk(after, number, for_good=for_good)
        for phase in scenario.phases:
            phase(room)
            outlook = room.sweep(disk)
            if disk.refused and for_good:
                assert outlook.alarms, f"nothing was said of {number} at {after}"
            room.sweep()
        require_outcome(scenario, room, (after, errno.errorcode[number]))


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    "scenario", SCENARIOS[:6] if WHOLE else SCENARIOS[:2], ids=lambda scenario: scenario.name
)
def test_program_that_dies_where_names_are_moved_by_link_files_everything_once(scenario, rooms):
    room = rooms()
    disk = SharedDisk()
    play(scenario, room, disk)
    assert room.decisions() == scenario.outcome
    room.require_sound()
    for after in range(len(scenario.name) % STEP, disk.done, STEP):
        room = rooms()
        play(scenario, room, SharedDisk(after), SharedDisk())
        require_outcome(scenario, room, after)


def test_disk_that_counts_does_what_the_real_one_does(room):
    disk = DyingDisk()
    room.sweep(disk)
    assert disk.done > 0


def test_full_disk_is_an_alarm_that_names_the_folder_until_there_is_room(room, monkeypatch):
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    with monkeypatch.context() as full:
        full.setattr(
            os, "statvfs", lambda _: SimpleNamespace(f_bavail=1000, f_frsize=4096, f_flag=0)
        )
        outlook = room.sweep()
    full_says = f"the disk of {room.site.drop} is nearly full: nothing new is taken in"
    assert outlook.alarms == [f"{full_says}; make room on that disk"]
    assert len(outlook.waiting) == 2
    assert not outlook.is_done
    assert room.sweep().is_done
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
