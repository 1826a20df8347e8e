"""The gate at work in this process, on a disk and by a clock that a test has in its hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plate_room import OPENED, ScriptedClock

from gatekeeper.bookkeeper import Bookkeeper
from gatekeeper.record.refill import Refill
from gatekeeper.site import read_site
from gatekeeper.workshop import rounds_of

if TYPE_CHECKING:
    from pathlib import Path

    from disks import DyingDisk

    from gatekeeper.history import Wait
    from gatekeeper.rounds.outlook import Outlook


class HandClock(ScriptedClock):
    """Its monotonic time moves when the test says so and at no other time."""

    def monotonic(self) -> float:
        return self.count


class Program:
    """One start of the program. It looks as the daemon does: edits, a round, a new history."""

    def __init__(
        self,
        root: Path,
        clock: ScriptedClock,
        disk: DyingDisk,
        *,
        settle_s: float,
        wait: Wait | None = None,
    ) -> None:
        site = read_site(root)
        self.disk = disk
        self.bookkeeper = Bookkeeper(site, clock.monotonic)
        self.rounds = rounds_of(
            site,
            clock,
            lambda: self.bookkeeper.book,
            current=lambda: self.bookkeeper.site,
            settle_s=settle_s,
            disk=disk,
            wait=wait,
        )
        OPENED.append(self.rounds.ledger.history)
        self._refill = Refill(site, self.rounds.ledger)

    def follow(self) -> bool:
        """Look for edits of the rules; return whether one was taken up."""
        return self.bookkeeper.look()

    def look(self) -> Outlook:
        """Go one round, and fill a history that had to be begun anew."""
        outlook = self.rounds.go()
        self._refill.look()
        outlook.alarms += [self._refill.trouble] if self._refill.trouble else []
        return outlook

    def end(self) -> None:
        """End as a kill does: nothing is written any more, the system closes what was open."""
        self.rounds.ledger.history.close()
        OPENED.remove(self.rounds.ledger.history)
