"""The program dies at one change of the disk after another, and again while it recovers."""

from __future__ import annotations

import os

import pytest
from disks import Died, DyingDisk
from scenarios import SCENARIOS

from gatekeeper.filing.disk import Disk

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
STEP = 1 if WHOLE else 67
"""Every change, or one in so many."""

SOME = SCENARIOS if WHOLE else SCENARIOS[1::2]
"""Scenarios for a second death."""

SECOND_DEATHS = (0, 1, 2, 3, 5, 8, 13, 21, 34) if WHOLE else (5,)
"""After how many changes of the recovery the program dies again."""


def play(scenario, room, *disks: DyingDisk) -> None:
    """Play a scenario on disks that die one after the other, and at last on one that does not."""
    waiting = [*disks, Disk()]
    for phase in scenario.phases:
        phase(room)
        while True:
            try:
                room.sweep(waiting[0])
            except Died:
                waiting.pop(0)
            else:
                break


def changes_of(scenario, room) -> int:
    disk = DyingDisk()
    play(scenario, room, disk)
    assert room.decisions() == scenario.outcome
    room.require_sound()
    return disk.done


def require_outcome(scenario, room, death) -> None:
    try:
        outlook = room.sweep()
        assert not outlook.alarms, outlook.alarms
        room.require_sound()
        room.require_outcome(scenario.outcome)
    except AssertionError as error:
        error.add_note(f"after death at {death}")
        raise


@pytest.mark.timeout(1800)
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_program_that_dies_at_any_change_of_the_disk_files_everything_once(
    scenario, rooms, elsewhere
):
    changes = changes_of(scenario, scenario.room(rooms, elsewhere))
    assert changes > 60
    for after in range(0, changes, STEP):
        room = scenario.room(rooms, elsewhere)
        play(scenario, room, DyingDisk(after))
        require_outcome(scenario, room, after)


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("scenario", SOME, ids=lambda scenario: scenario.name)
def test_program_that_dies_again_while_it_recovers_files_everything_once(
    scenario, rooms, elsewhere
):
    changes = changes_of(scenario, scenario.room(rooms, elsewhere))
    for after in range(4, changes, 5 * STEP):
        for again in SECOND_DEATHS:
            room = scenario.room(rooms, elsewhere)
            play(scenario, room, DyingDisk(after), DyingDisk(again))
            require_outcome(scenario, room, (after, again))
