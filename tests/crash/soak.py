"""One room, the program at work in it, and every fault that a soak has for the two.

After each fault everything is well again; the soak then waits until all that was dropped is filed.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from disks import Died, StrikingDisk
from oracle import InForce
from people import TIGHT, USUAL, People
from program import HandClock, Program

from gatekeeper.history import Wait

if TYPE_CHECKING:
    import random
    from collections import Counter

    from plate_room import PlateRoom

    from gatekeeper.rounds.outlook import Outlook

PAGE = os.sysconf("SC_PAGE_SIZE")

MOST_AT_ONCE = 100
"""Things that are dropped before faults strike."""

RULES = "workflows/liquid-plate.yaml"
ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)


class Troubled:
    """A room in trouble: what strikes it from outside, whatever program is at work there."""

    def __init__(self, room: PlateRoom, dice: random.Random, tally: Counter) -> None:
        self.room = room
        self.dice = dice
        self.tally = tally
        self.people = People(room, dice)
        self.in_force = InForce()

    def note_memory(self, process: int | str, jobs: int) -> None:
        """Note what a process holds in memory, at each fifth of the way."""
        pages = Path(f"/proc/{process}/statm").read_text("ascii").split()[1]
        share = 5 * len(self.people.jobs) // jobs
        key = f"soak: MiB of {type(self).__name__} at most, {share} fifths of the way"
        self.tally[key] = max(self.tally[key], int(pages) * PAGE >> 20)

    def may_wait(self) -> set[str]:
        """Return companions that no job of their workflow can have.

        Of a sheet that was dropped beside the workflows' folders and held unread nobody knows the
        workflow; it stands unsorted.
        """
        unsorted = self.room.site.held / "unsorted"
        stems = {place.name for place in unsorted.iterdir()} if unsorted.exists() else set()
        lying = (self.room.site.drop / "liquid-plate").iterdir()
        return self.people.orphans | {path.name for path in lying if path.stem in stems}

    @property
    def history(self) -> Path:
        return self.room.site.state / "history.sqlite"

    def remove_history(self) -> None:
        for ending in ("", "-wal", "-shm"):
            self.history.with_name(self.history.name + ending).unlink(missing_ok=True)
        self.tally["soak: histories removed"] += 1

    def overwrite_history(self) -> None:
        """Write over a part of the file; no program may run."""
        if not self.history.exists():
            return
        with self.history.open("r+b") as file:
            file.seek(self.dice.randrange(max(self.history.stat().st_size - 4096, 1)))
            file.write(self.dice.randbytes(4096))
        self.tally["soak: histories damaged"] += 1

    def lock_history(self) -> sqlite3.Connection:
        """Hold the history's lock until what is returned is closed."""
        holder = sqlite3.connect(self.history, isolation_level=None)
        holder.execute("begin immediate")
        self.tally["soak: histories locked"] += 1
        return holder

    def choose_marker(self) -> Path:
        """Return the mark of a folder that is to be away."""
        root = self.dice.choice((self.room.site.drop, self.room.site.approved, self.room.site.held))
        return root / ".gatekeeper" / "site-id"

    def unmount(self, marker: Path) -> None:
        if marker.exists():
            marker.rename(_away(marker))
            self.tally["soak: folders taken away"] += 1

    def mount(self, marker: Path) -> None:
        if _away(marker).exists():
            _away(marker).rename(marker)

    def edit_limit(self) -> None:
        limit = USUAL if self.in_force.limit == TIGHT else TIGHT
        self.edit(f"min: {self.in_force.limit:.2f}", f"min: {limit:.2f}")
        self.in_force.edited(limit)

    def edit(self, old: str, new: str) -> None:
        """Save the rules with other words in them."""
        path = self.room.site.root / RULES
        beside = path.with_suffix(".edited")
        text = path.read_text()
        assert old in text
        beside.write_text(text.replace(old, new, 1))
        beside.replace(path)
        self.tally["soak: edits of the rules"] += 1


def _away(marker: Path) -> Path:
    """Return where a mark lies while its folder is away: beside the folder."""
    return marker.parents[1].with_name("away")


class Soak(Troubled):
    """The program at work in this process, on a disk that strikes at a chosen change."""

    def __init__(self, room: PlateRoom, dice: random.Random, tally: Counter) -> None:
        super().__init__(room, dice, tally)
        self.clock = room.clock = HandClock()
        self.disk = StrikingDisk()
        self.program: Program | None = None

    def work(self, jobs: int) -> None:
        """Drop so many jobs, batch by batch, with a fault or two for each batch."""
        while len(self.people.jobs) < jobs:
            self.in_force.begin(self.clock.now())
            for _ in range(min(jobs, MOST_AT_ONCE)):
                self.people.drop_something()
            for fault in self.dice.sample(FAULTS, self.dice.choice((0, 1, 1, 2, 3))):
                fault(self)
            self.come_to_rest()
            self.note_memory("self", jobs)

    def look(self) -> Outlook:
        """Go one round; begin the program if it does not run, and let it be killed."""
        self.clock.count += 2.0
        if self.program is None:
            wait = Wait(lock_s=0.02, pause_s=0.0)
            root = self.room.site.root
            self.program = Program(root, self.clock, self.disk, settle_s=1.0, wait=wait)
        self.program.follow()
        return self.program.look()

    def end(self) -> None:
        if self.program:
            self.program.end()
        self.program, self.disk = None, StrikingDisk()

    def come_to_rest(self) -> None:
        """Let everything be well again, and everything that was dropped be filed."""
        self.disk.disarm()
        for _ in range(10):
            outlook = self.look()
            left = {entry.name for entry in outlook.waiting} - self.may_wait()
            if not left and not outlook.alarms:
                return
        pytest.fail(f"alarms {outlook.alarms}, waiting {outlook.waiting}")

    # -- faults -------------------------------------------------------------------------------

    def kill(self) -> None:
        self.disk.left = self.disk.done + self.dice.randint(0, 900)
        try:
            self.look()
            self.look()
        except Died:
            self.tally["soak: deaths"] += 1
            self.end()
        self.disk.disarm()

    def refuse(self) -> None:
        """Let some changes in a row be refused, or all until somebody makes room."""
        number = self.dice.choice(ERRORS)
        left = self.dice.choice((1, 1, 3, 20, 1000))

        def refused(path):
            nonlocal left
            if left > 0:
                left -= 1
                self.tally["soak: changes refused"] += 1
                raise OSError(number, os.strerror(number), str(path))

        self.disk.arm(self.dice.randint(0, 900), refused)
        self.look()
        self.look()
        self.disk.disarm()

    def read_badly(self) -> None:
        self.disk.bad_reads = self.dice.choice((1, 2, 60))
        self.look()
        self.look()
        self.tally["soak: bad media"] += 1
        self.disk.disarm()

    def take_a_folder_away(self) -> None:
        """Unmount a folder, at once or in the middle of a round."""
        marker = self.choose_marker()
        if self.dice.random() < 0.5:
            self.unmount(marker)
        else:
            self.disk.arm(self.dice.randint(0, 300), lambda _: self.unmount(marker))
        self.look()
        self.look()
        self.disk.disarm()
        self.mount(marker)

    def lose_the_history(self) -> None:
        self.remove_history()
        self.look()

    def keep_the_history_busy(self) -> None:
        if self.history.exists():
            with closing(self.lock_history()):
                self.look()
                self.look()

    def damage_the_history(self) -> None:
        self.end()
        self.overwrite_history()
        self.look()

    def change_the_rules(self) -> None:
        self.edit_limit()
        self.look()

    def break_the_rules(self) -> None:
        """Save half a rule file, and mend it later."""
        self.edit("workflow: liquid-plate", "workflow: [liquid-plate")
        self.look()
        self.look()
        self.edit("workflow: [liquid-plate", "workflow: liquid-plate")


FAULTS = (
    *(Soak.kill, Soak.kill, Soak.refuse, Soak.refuse, Soak.read_badly, Soak.take_a_folder_away),
    *(Soak.lose_the_history, Soak.keep_the_history_busy, Soak.damage_the_history),
    *(Soak.change_the_rules, Soak.break_the_rules),
)
