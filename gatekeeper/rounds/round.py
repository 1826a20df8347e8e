"""One round over the drop folders: finish what was begun, take what is at rest, say what waits.

`sweep` goes one round, the daemon goes round whenever something wakes it. One job's failure is that
job's: a round never ends early because of one file.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing import claim, worklist
from gatekeeper.filing.desk import WORK, Desk, Roots
from gatekeeper.filing.joblock import clear_stale_locks
from gatekeeper.filing.lease import Lease, Rivals, adopt_benches
from gatekeeper.filing.online import require_answer
from gatekeeper.filing.tickets import Sequence, identity_of
from gatekeeper.gate import Tools
from gatekeeper.intake.readiness import ROOM_TO_SPARE
from gatekeeper.intake.scan import Group, is_litter
from gatekeeper.intake.settle import Settler, someone_writes
from gatekeeper.rounds.approved import look_at_approved, tickets_of_doubt
from gatekeeper.rounds.arrivals import Arrivals
from gatekeeper.rounds.attendant import Attendant
from gatekeeper.rounds.outlook import Outlook, in_words
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation
    from gatekeeper.record.ledger import Ledger
    from gatekeeper.rounds.approved import Looked
    from gatekeeper.site import Site

__all__ = ["ROOM_TO_SPARE", "Rounds"]
log = logging.getLogger(__name__)


class Rounds:
    """Goes round the drop folders of a site. One of it works on a site at a time."""

    def __init__(
        self,
        site: Site,
        disk: Disk,
        clock: Clock,
        ledger: Ledger,
        situation: Callable[[], Situation],
        *,
        settle_s: float,
        heard: Callable[[Path], object] = lambda _: None,
    ) -> None:
        self.site = site
        self.disk = disk
        self.clock = clock
        self.ledger = ledger
        self.situation = situation
        self.roots = Roots(site.drop, site.approved, site.held, site.gate, site.mark)
        self.settler = Settler(settle_s, site.settings.unended_settle_s)
        self._attendant = Attendant(retry_s=site.settings.rescan_s)
        self.lease = Lease()
        self._arrivals = Arrivals(
            site=site,
            roots=self.roots,
            disk=disk,
            clock=clock,
            ledger=ledger,
            situation=situation,
            settler=self.settler,
            attendant=self._attendant,
            lease=self.lease,
            heard=heard,
        )
        self._rivals = Rivals(clock.monotonic)
        self._ids: Sequence | None = None
        self._prepared: set[Path] = set()

    def go(self, should_stop: Callable[[], bool] = lambda: False) -> Outlook:
        """Go one round. Raises nothing but faults of the program: trouble is in the outlook."""
        outlook = Outlook()
        try:
            require_answer(self.disk, self.roots)
            worklist.clear_rubbish(self.disk, self.roots)
            folders = self._drop_folders(outlook)
            self._arrivals.look_ahead(folders)
            desks = self._begun(folders, outlook)
            self.ledger.catch_up()
            tools = self._tools(desks)
            desks += self._tickets_beside(desks, tools)
        except (RoomError, OSError) as error:
            outlook.alarms.append(in_words(error))
            return outlook
        try:
            self._work(desks, folders, tools, outlook, should_stop)
        except OSError as error:  # no word could be left for the other gates: go on when it can
            outlook.alarms.append(in_words(error))
        if self.ledger.away:
            outlook.alarms.append(f"the history is away: {self.ledger.away}")
        return outlook

    def _work(
        self,
        desks: list[Desk],
        folders: dict[str, Path],
        tools: Tools,
        outlook: Outlook,
        should_stop: Callable[[], bool],
    ) -> None:
        for desk in desks:
            if not should_stop():
                self.lease.renew(self.disk, self.roots, folders.values())
                self._attendant.work(desk, tools, outlook)
        for workflow, folder in folders.items():
            if not should_stop():
                self.lease.renew(self.disk, self.roots, folders.values())
                self._arrivals.take(workflow, folder, tools, outlook, should_stop)

    @property
    def filed(self) -> int:
        """How many jobs were filed since this began to go round."""
        return self._attendant.filed

    def check_approved(self, looked: Looked | None = None) -> Outlook:
        """Take to held what stands in approved without a verdict that holds for it.

        Parameters
        ----------
        looked : what a look has found; without it everything is looked at now

        Raises
        ------
        RoomError, OSError : a folder is away
        """
        outlook = Outlook()
        looked = looked or look_at_approved(self.disk, self.roots)
        self.lease.renew(self.disk, self.roots, self._drop_folders(outlook).values())
        tools = self._tools([])
        for desk in tickets_of_doubt(looked, self.roots, tools, outlook):
            self._attendant.work(desk, tools, outlook)
        return outlook

    def _tools(self, desks: list[Desk]) -> Tools:
        if self._ids is None:
            self._ids = Sequence()
            self._ids.follow([self.ledger.newest_ticket()])
        self._ids.follow(desk.ticket.id for desk in desks)
        return Tools(
            self.disk,
            self.clock,
            self.situation(),
            self.ledger,
            self._ids,
            rests=self._rests,
            still_ours=lambda desk: self.lease.require(self.disk, desk),
        )

    # -- drop folders -------------------------------------------------------------------------

    def _drop_folders(self, outlook: Outlook) -> dict[str, Path]:
        """Return folders by workflow; drop/ itself has no workflow's name."""
        self._prepare(self.roots.drop)
        found = {"": self.roots.drop}
        names = set(self.disk.names(self.roots.drop)) | set(self.situation().library.workflows)
        for name in sorted(names - {WORK}):
            folder = self.roots.drop / name
            if is_litter(name, self.site.litter) or self.disk.is_plain(folder):
                continue
            try:
                claim.make_if_absent(self.disk, self.roots, folder)
                self._prepare(folder)
            except (RoomError, OSError) as error:
                outlook.alarms.append(f"{plain(name)}: {in_words(error)}")
            else:
                found[name] = folder
        return found

    def _prepare(self, folder: Path) -> None:
        is_start = folder not in self._prepared  # by this run of the program
        claim.prepare(self.disk, self.roots, folder, is_start=is_start)
        self._prepared.add(folder)

    # -- what was begun -----------------------------------------------------------------------

    def _begun(self, folders: dict[str, Path], outlook: Outlook) -> list[Desk]:
        """Return what was begun, oldest first, and say what is wrong in the work folders."""
        desks: list[Desk] = []
        is_complete = True
        self.lease.renew(self.disk, self.roots, folders.values())
        for workflow, folder in folders.items():
            self._rivals.take_over(self.disk, self.roots, folder)
            found = worklist.tickets_in(self.disk, self.roots, folder, workflow)
            outlook.alarms += [in_words(error) for error in found.troubles]
            is_complete = is_complete and not found.troubles
            desks += found.desks
        known = {desk.ticket.id for desk in desks}
        adopt_benches(self.disk, self.roots, known)
        clear_stale_locks(self.disk, self.roots)
        if is_complete and not outlook.alarms:
            for error in worklist.lost_work(self.disk, self.roots, known):
                outlook.alarms.append(in_words(error))
        return sorted(desks, key=lambda desk: desk.ticket.id)

    def _tickets_beside(self, desks: list[Desk], tools: Tools) -> list[Desk]:
        """Write the tickets that a crash has kept from sheets that were refused together."""
        left = list(claim.left_beside(self.disk, desks))
        tickets = [
            desk.ticket.for_beside(sheet, tools.ids.next(self.clock.now())) for desk, sheet in left
        ]
        return [claim.write_ticket(self.disk, self.roots, ticket) for ticket in tickets]

    def _rests(self, path: Path) -> bool:
        """Whether a file that was taken in and changed is at rest by now."""
        found = self.disk.lstat(path)
        if found is None:
            return True
        group = Group(path.name, path.name, (identity_of(path.name, found),))
        now = self.clock.monotonic()
        self.settler.look(str(path.parent), (group,), now)
        left_s = self.settler.rests_in(str(path.parent), group, now, whole=True)
        return left_s <= 0 and not someone_writes(path)
