"""Several gates on one drop folder: each shows that it lives, and a dead one's work is taken over.

A lease is a word that its gate changes every half minute. Another gate calls it dead when the word
has not changed for five minutes of its own monotonic clock: clocks of two machines are never
compared. A gate that was only asleep finds by its own clock that it slept too long, or that its
claim is gone, and stops.
"""

from __future__ import annotations

import logging
import os
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.desk import WORK
from gatekeeper.filing.spelling import SPELLINGS
from gatekeeper.filing.worklist import clear_rubbish

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, Roots
    from gatekeeper.filing.disk import Disk

LEASE = "lease"
RENEWED_S = 30.0
"""How often a gate changes its word (s)."""
DEAD_S = 300.0
"""A word that has not changed for so long is a dead gate's (s)."""

JOBS = "jobs"
_NO_GATES = frozenset({SPELLINGS, JOBS})
_LONGEST = 200

log = logging.getLogger(__name__)


def since_boot() -> float:
    """Return seconds that go on while the machine sleeps."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


class Lease:
    """The sign of life that a gate gives of itself."""

    def __init__(self, clock: Callable[[], float] = since_boot) -> None:
        self._clock = clock
        self._word = os.urandom(6).hex()  # of this run of the program: a restart is a change
        self._count = 0
        self._renewed: float | None = None

    def renew(self, disk: Disk, roots: Roots, drop_folders: Iterable[Path]) -> None:
        """Change the word where another gate could look for it, unless that was a moment ago.

        A gate that is alone leaves no word; it sees a second one long before that one can take it
        for dead.
        """
        now = self._clock()
        if self._renewed is not None and now - self._renewed < RENEWED_S:
            return
        self._count += 1
        word = f"{self._word} {self._count:012d}\n".encode("ascii")
        for folder in drop_folders:
            if gates_in(disk, folder, but=roots.gate):
                disk.overwrite(roots.claims(folder) / LEASE, word)
        self._renewed = now

    def require(self, disk: Disk, desk: Desk) -> None:
        """Raise unless the ticket is still this gate's.

        Raises
        ------
        LostTicketError : the gate slept for half a lease, or another one has taken the ticket over
        """
        is_fresh = self._renewed is not None and self._clock() - self._renewed < DEAD_S / 2
        if not is_fresh or not disk.is_folder(desk.claim):
            raise trouble.not_ours(desk.ticket.id)


class Rivals:
    """The other gates on the drop folders, as this one has seen them."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._monotonic = monotonic
        self._seen: dict[Path, tuple[bytes, float]] = {}

    def take_over(self, disk: Disk, roots: Roots, drop_folder: Path) -> None:
        """Take the work of gates that are dead over, and clear away what they left as rubbish."""
        for gate in self.dead(disk, roots, drop_folder):
            clear_rubbish(disk, replace(roots, gate=gate))
            taken = take_over(disk, roots, drop_folder, gate)
            if taken:
                log.warning("gate %s is dead: %d of its tickets are taken over", gate, len(taken))

    def dead(self, disk: Disk, roots: Roots, drop_folder: Path) -> list[str]:
        """Return the names of gates whose word has stood still for too long."""
        now = self._monotonic()
        found = []
        for gate in gates_in(disk, drop_folder, but=roots.gate):
            lease = drop_folder / WORK / gate / LEASE
            word = disk.read(lease, _LONGEST) if disk.is_plain(lease) else b""
            earlier, since = self._seen.get(lease, (None, now))
            if word != earlier:
                self._seen[lease] = (word, now)
            elif now - since >= DEAD_S:
                found.append(gate)
        return found


def gates_in(disk: Disk, folder: Path, *, but: str) -> list[str]:
    """Return the names of the gates that work in a folder, all but one."""
    return [
        name
        for name in disk.names(folder / WORK)
        if name != but and name not in _NO_GATES and disk.is_folder(folder / WORK / name)
    ]


def take_over(disk: Disk, roots: Roots, drop_folder: Path, gate: str) -> list[str]:
    """Take a dead gate's tickets on a drop folder; one of several gates wins each of them."""
    theirs, ours = drop_folder / WORK / gate, roots.claims(drop_folder)
    taken = [
        name
        for name in disk.names(theirs)
        if disk.is_folder(theirs / name) and _renamed(disk, theirs / name, ours / name)
    ]
    if taken:
        disk.sync(ours)
        disk.sync(theirs)
    return taken


def adopt_benches(disk: Disk, roots: Roots, tickets: Collection[str]) -> None:
    """Bring benches and landings of this gate's tickets that still lie under another's name."""
    for root, ours in ((roots.held, roots.benches), (roots.approved, roots.landings)):
        for gate in gates_in(disk, root, but=roots.gate):
            theirs = root / WORK / gate
            for name in sorted(set(disk.names(theirs)) & set(tickets)):
                if _renamed(disk, theirs / name, ours / name):
                    disk.sync(ours)
                    disk.sync(theirs)


def _renamed(disk: Disk, source: Path, target: Path) -> bool:
    try:
        disk.rename_new(source, target)
    except FileNotFoundError:
        return False  # another gate was quicker
    return True
