"""The real daemon in a room in trouble: killed at random moments, started again, killed again."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from forks import CHECKOUT
from plate_room import ENVIRONMENT
from soak import MOST_AT_ONCE, Troubled

from gatekeeper.screens.present import read_present

if TYPE_CHECKING:
    import random
    from collections import Counter

    from plate_room import PlateRoom

LONGEST_S = 300.0
"""A soak waits so long for everything to be filed; a machine with much to do needs its time."""

QUICK = {"settle_s: 2.0": "settle_s: 0.4", "rescan_s: 15": "rescan_s: 1"}


class Daemon:
    """The program as people start it, for as long as nobody kills it."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._log = root / "said"
        self._process: subprocess.Popen | None = None

    def begin(self) -> None:
        if self._process:
            return
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "gatekeeper", "--site", str(self._root), "run"],
                env=ENVIRONMENT,
                cwd=CHECKOUT,
                stdout=log,
                stderr=log,
            )

    def kill(self) -> None:
        if self._process:
            self._process.kill()
            self._process.wait()
        self._process = None

    def require_life(self) -> None:
        assert self._process, "it was killed"
        assert self._process.poll() is None, self.says

    @property
    def process(self) -> int:
        return self._process.pid

    @property
    def says(self) -> str:
        return self._log.read_text(errors="replace")


class SoakedDaemon(Troubled):
    """Everything that happens to a daemon, by the machine's own clock."""

    def __init__(self, room: PlateRoom, dice: random.Random, tally: Counter) -> None:
        super().__init__(room, dice, tally)
        settings = room.site.root / "site.yaml"
        text = settings.read_text()
        for old, new in QUICK.items():
            assert old in text
            text = text.replace(old, new)
        settings.write_text(text + "unended_settle_s: 0.8\n")
        self.daemon = Daemon(room.site.root)

    def work(self, jobs: int) -> None:
        """Drop so many jobs while the daemon is at work, and let faults strike it meanwhile."""
        before = self.in_force.limit
        while len(self.people.jobs) < jobs:
            # An edit of the last period may not have been taken up yet.
            self.in_force.begin(datetime.now(UTC), before)
            before = self.in_force.limit
            self.daemon.begin()
            for _ in range(min(jobs, MOST_AT_ONCE)):
                self.people.drop_something()
            for fault in self.dice.choices(FAULTS, k=self.dice.choice((1, 2, 4, 6))):
                time.sleep(self.dice.uniform(0.0, 2.0))
                fault(self)
            self.come_to_rest()
            self.note_memory(self.daemon.process, jobs)

    def come_to_rest(self) -> None:
        """Let the daemon file everything that was dropped."""
        self.daemon.begin()
        deadline = time.monotonic() + LONGEST_S
        while left := self._left():
            self.daemon.require_life()
            assert time.monotonic() < deadline, (left, self.daemon.says[-2000:])
            time.sleep(0.05)

    def _left(self) -> set[str]:
        """Return what is still to be filed or told."""
        drop, outbox = self.room.site.drop, self.room.site.state / "outbox"
        left = {
            str(Path(folder, name).relative_to(drop))
            for folder, _, names in os.walk(drop)
            for name in names
            if name not in {"site-id", "lease"}
        }
        left -= {f"liquid-plate/{name}" for name in self.may_wait()}
        left |= {path.name for path in outbox.iterdir()} if outbox.exists() else set()
        return left | self._not_yet_seen_to()

    def _not_yet_seen_to(self) -> set[str]:
        """Return what a daemon that has just begun, or lost its history, has yet to do."""
        present = read_present(self.room.site.state)
        unfilled = self.history.with_name(f"{self.history.name}.unfilled")
        return {
            what
            for what, is_so in {
                "its first round": present is None or present.process != self.daemon.process,
                "a new history": not self.history.exists(),
                "filling the history": unfilled.exists(),
            }.items()
            if is_so
        }

    # -- faults -------------------------------------------------------------------------------

    def die(self) -> None:
        self.daemon.kill()
        self.tally["soak: kills of the daemon"] += 1
        self.daemon.begin()

    def lose_the_history(self) -> None:
        self.remove_history()

    def keep_the_history_busy(self) -> None:
        if self.history.exists():
            with closing(self.lock_history()):
                time.sleep(1.0)

    def damage_the_history(self) -> None:
        self.daemon.kill()
        self.overwrite_history()
        self.daemon.begin()

    def take_a_folder_away(self) -> None:
        marker = self.choose_marker()
        self.unmount(marker)
        time.sleep(1.0)
        self.mount(marker)

    def change_the_rules(self) -> None:
        self.edit_limit()

    def break_the_rules(self) -> None:
        self.edit("workflow: liquid-plate", "workflow: [liquid-plate")
        time.sleep(1.0)
        self.edit("workflow: [liquid-plate", "workflow: liquid-plate")


FAULTS = (
    *(SoakedDaemon.die,) * 5,
    *(SoakedDaemon.lose_the_history, SoakedDaemon.keep_the_history_busy),
    *(SoakedDaemon.damage_the_history, SoakedDaemon.take_a_folder_away),
    *(SoakedDaemon.change_the_rules, SoakedDaemon.break_the_rules),
)
