"""The demo as a morning: its sheets arrive one by one, while board and page look on.

The gate that judges them is the real one; only its clock is the demo's own, which moves on some
minutes with each job, so that the morning lasts as long as somebody wants to look.
"""

from __future__ import annotations

import os
import threading
from contextlib import closing
from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.demo.clock import DemoClock
from gatekeeper.demo.week import Outcome, build_site, drop_file, read_table
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.screens.page_files import Pages
from gatekeeper.screens.present import Present, write_present
from gatekeeper.single import only_one
from gatekeeper.workshop import PROGRAM, rounds_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.demo.week import Entry
    from gatekeeper.rounds.outlook import FiledJob, Outlook

BEGINS = 8  # o'clock, on the day after the demo's own
_BETWEEN_JOBS = timedelta(minutes=3)
_SIGN_OF_LIFE_S = 10.0


class MorningClock(DemoClock):
    """Begins in the morning, and can be moved on."""

    def __init__(self, day: datetime) -> None:
        morning = day.replace(hour=BEGINS, minute=0, second=0, microsecond=0)
        super().__init__(morning + timedelta(days=1))

    def move_on(self) -> None:
        """Let the time until the next job go by."""
        self._now += _BETWEEN_JOBS


class Morning:
    """A plate room whose jobs arrive one by one."""

    def __init__(self, root: Path, *, pace_s: float) -> None:
        self.site = build_site(root)
        self._pace_s = pace_s
        start, drops = read_table(self.site)
        self._entries = [entry for entries in drops for entry in entries]
        self._clock = MorningClock(start)
        self._book = read_book(self.site)
        self._filed: list[FiledJob] = []
        self._stopping = threading.Event()

    @property
    def outcome(self) -> Outcome:
        """What was filed so far."""
        return Outcome(self.site, tuple(self._filed))

    def stop(self) -> None:
        """Ask to end after the job in hand."""
        self._stopping.set()

    def play(self, told: Callable[[FiledJob], None], *, stays: bool) -> None:
        """Let the jobs arrive.

        Parameters
        ----------
        told : called with each job that is filed
        stays : whether the gate stays at work after the last job, until `stop`
        """
        rounds = rounds_of(self.site, self._clock, lambda: self._book, settle_s=0.0)
        pages = Pages(self.site, self._clock)
        with only_one(self.site.state, self.site.gate), closing(rounds.ledger.history):
            self._show(pages, rounds.go())
            for entry in self._entries:
                for file in _companions_first(entry):
                    if self._stopping.is_set():
                        break
                    drop_file(self.site, file)
                    outlook = sweep_once(rounds)
                    self._filed += outlook.filed
                    self._show(pages, outlook)
                    for job in outlook.filed:
                        told(job)
                    self._pause(pages)
                self._clock.move_on()
            while stays and not self._stopping.wait(_SIGN_OF_LIFE_S):
                self._show(pages, rounds.go())
        pages.end()

    def _pause(self, pages: Pages) -> None:
        self._stopping.wait(self._pace_s)
        pages.catch_up()

    def _show(self, pages: Pages, outlook: Outlook) -> None:
        present = Present(
            at=self._clock.now().isoformat(timespec="seconds"),
            process=os.getpid(),
            program=PROGRAM,
            waiting=tuple(outlook.waiting),
            alarms=tuple(outlook.alarms),
        )
        write_present(self.site.state, present)
        pages.follow(self._book, present, filed=bool(outlook.filed))


def _companions_first(entry: Entry) -> list[str]:
    """Return the sheet last, so that its companions are seen to wait for it."""
    sheet, *companions = entry.files
    return [*companions, sheet]
