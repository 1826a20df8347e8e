"""The power is cut: what was not flushed may be gone, in any mixture, and everything is filed once.

Two cuts are tried: one in the middle of the work, and one after a kill, in the middle of the
recovery, where the kill may have come between a rename and its flush.
"""

from __future__ import annotations

import os
import random
import shutil
import tempfile
from itertools import count
from pathlib import Path

import pytest
from disks import Change, Died, RecordingDisk
from plate_room import PlateRoom, ScriptedClock, is_sheet
from power import copy_of, cuts, rebuild
from scenarios import SCENARIOS

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
STEP = 1 if WHOLE else 113
KILL_STEP = 7 if WHOLE else 307
CUT_STEP = 3 if WHOLE else 67
MIXTURES = 3 if WHOLE else 1
SOME = SCENARIOS if WHOLE else SCENARIOS[::3]
"""Scenarios for the cut after a kill."""


class Recorder:
    """Plays a scenario and keeps what is needed to lay out any state of its disk again."""

    def __init__(self, scenario, room: PlateRoom, folder: Path, other: Path) -> None:
        self.scenario = scenario
        self.room = room
        self.folder = folder
        self.other = other
        self.log: list[Change] = []
        self.histories: list[Path] = []
        self.killed_at = 0
        self.was_killed = False
        self._numbers = count()
        self.places = [room.site.root, *(room.site.root / name for name in scenario.elsewhere)]
        self.before = folder / "before"
        copy_of(room.site.root, self.before)
        for name in scenario.elsewhere:
            copy_of(getattr(room.site, name), self.before / f"@{name}")
        self._keep_history()

    def play(self, kill_after: int | None = None) -> None:
        disk = RecordingDisk(self.log, kill_after)
        for phase in self.scenario.phases:
            known = len(self.room.dropped)
            phase(self.room)
            self._note_drops(known)
            while True:
                try:
                    self._sweep(disk)
                except Died:
                    self.killed_at = len(self.log)
                    self.was_killed = True
                    disk = RecordingDisk(self.log)
                else:
                    break

    def _sweep(self, disk: RecordingDisk) -> None:
        rounds = self.room.rounds(disk)
        tell = rounds.ledger.tell

        def tell_and_keep(stories):
            errors = tell(stories)
            self._keep_history()
            self.log.append(Change("commit", ()))
            return errors

        rounds.ledger.tell = tell_and_keep
        try:
            for _ in range(4):
                rounds.go()
        finally:
            rounds.ledger.history.close()

    def _note_drops(self, known: int) -> None:
        new = set(self.room.dropped[known:])
        for path in sorted(self.room.site.drop.rglob("*")):
            if path.is_file() and path.read_bytes() in new:
                found = path.stat()
                self.log.append(Change("drop", (path,), path.read_bytes(), found.st_mtime_ns))

    def _keep_history(self) -> None:
        kept = self.folder / f"history-{next(self._numbers)}"
        copy_of(self.room.site.state, kept)
        self.histories.append(kept)

    def room_after(self, cut: int, kept: set[int], dice: random.Random) -> PlateRoom:
        """Lay out what a power cut has left, with the history as it was at that moment."""
        root = Path(tempfile.mkdtemp(dir=self.folder))
        shutil.rmtree(root)
        copy_of(self.before, root)
        other = Path(tempfile.mkdtemp(dir=self.other))
        places = {name: other / name for name in self.scenario.elsewhere}
        for name, place in places.items():
            shutil.move(root / f"@{name}", place)
        text = (root / "site.yaml").read_text()
        for name, place in places.items():
            text = text.replace(str(getattr(self.room.site, name)), str(place))
        (root / "site.yaml").write_text(text)

        def moved(path: Path) -> Path:
            for name, place in places.items():
                old = getattr(self.room.site, name)
                if path.is_relative_to(old):
                    return place / path.relative_to(old)
            return root / path.relative_to(self.room.site.root)

        rebuild(self.log, kept, moved, dice)
        commits = sum(change.kind == "commit" for change in self.log[:cut])
        shutil.rmtree(root / "state")
        copy_of(self.histories[commits], root / "state")
        room = PlateRoom.at(root, self.room.pattern, ScriptedClock(self.room.clock.now()))
        dropped = [change.content for change in self.log[:cut] if change.kind == "drop"]
        names = [change.paths[0].name for change in self.log[:cut] if change.kind == "drop"]
        room.dropped, room.sheets = dropped, sum(map(is_sheet, names))
        return room


def require_recovery(recorder: Recorder, cut: int, dice: random.Random, *, is_end: bool) -> None:
    for number, kept in enumerate(cuts(recorder.log, cut, dice, MIXTURES)):
        room = recorder.room_after(cut, kept, dice)
        try:
            outlook = room.sweep()
            assert not outlook.alarms, outlook.alarms
            room.require_sound()
            if is_end:
                room.require_outcome(recorder.scenario.outcome)
        except AssertionError as error:
            lost = lost_words(recorder, cut, kept)
            error.add_note(f"cut at {cut} of {len(recorder.log)}, state {number}, lost: {lost}")
            raise
        shutil.rmtree(room.site.root)


def lost_words(recorder: Recorder, cut: int, kept: set[int]) -> list[str]:
    changes = [recorder.log[index] for index in range(cut) if index not in kept]
    root = str(recorder.room.site.root)
    return [
        f"{change.kind} {' '.join(str(path).replace(root, '') for path in change.paths)}"
        for change in changes
        if change.kind != "sync"
    ]


def last_drop(log: list[Change]) -> int:
    return max(index for index, change in enumerate(log) if change.kind == "drop")


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
def test_power_cut_at_any_change_loses_nothing_and_doubles_nothing(
    scenario, rooms, elsewhere, fast_folder
):
    dice = random.Random(scenario.name)  # noqa: S311 -- the same dice each time
    folder = Path(tempfile.mkdtemp(dir=fast_folder))
    recorder = Recorder(scenario, scenario.room(rooms, elsewhere), folder, elsewhere)
    recorder.play()
    recorder.room.require_sound()
    end = last_drop(recorder.log)
    for cut in range(dice.randrange(STEP), len(recorder.log) + 1, STEP):
        if cut and recorder.log[cut - 1].kind == "drop" and cut <= end:
            continue  # in the middle of a phase's drops
        require_recovery(recorder, cut, dice, is_end=cut > end)
    shutil.rmtree(folder)


@pytest.mark.timeout(7200)
@pytest.mark.parametrize("scenario", SOME, ids=lambda scenario: scenario.name)
def test_power_cut_during_the_recovery_from_a_kill_loses_nothing_and_doubles_nothing(
    scenario, rooms, elsewhere, fast_folder
):
    dice = random.Random(scenario.name)  # noqa: S311 -- the same dice each time
    kill_after = dice.randrange(KILL_STEP)
    while True:
        folder = Path(tempfile.mkdtemp(dir=fast_folder))
        room = scenario.room(rooms, elsewhere)
        recorder = Recorder(scenario, room, folder, elsewhere)
        recorder.play(kill_after)
        room.require_sound()
        if not recorder.was_killed:
            break
        end = last_drop(recorder.log)
        for cut in range(recorder.killed_at, len(recorder.log) + 1, CUT_STEP):
            if recorder.log[cut - 1].kind != "drop":  # else in the middle of a phase's drops
                require_recovery(recorder, cut, dice, is_end=cut > end)
        kill_after += KILL_STEP
        shutil.rmtree(folder)
