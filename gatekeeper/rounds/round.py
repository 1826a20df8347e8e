"""One round over the drop folders: finish what was begun, take what is at rest, say what waits.

`sweep` goes one round, the daemon goes round whenever something wakes it. One job's failure is that
job's: a round never ends early because of one file.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing import claim, companions, worklist
from gatekeeper.filing.desk import WORK, Desk, Roots
from gatekeeper.filing.doubt import doubtful_jobs, write_doubt
from gatekeeper.filing.joblock import clear_stale_locks
from gatekeeper.filing.lease import Lease, Rivals, adopt_benches
from gatekeeper.filing.online import require_answer
from gatekeeper.filing.tickets import Sequence, Ticket, identity_of
from gatekeeper.gate import Tools
from gatekeeper.intake.readiness import ROOM_TO_SPARE, NotYet, Readiness
from gatekeeper.intake.scan import CONCESSIONS, Group, Listing, is_litter, list_drop_folder
from gatekeeper.intake.settle import Settler, someone_writes
from gatekeeper.intake.shares import keeps_inodes
from gatekeeper.intake.sorting import Sorted, Sorter
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.whole import ends_whole
from gatekeeper.rounds.attendant import FAILED, Attendant
from gatekeeper.rounds.outlook import Outlook, Waiting, in_words
from gatekeeper.slips.conceding import SLIP
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation
    from gatekeeper.record.ledger import Ledger
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
    ) -> None:
        self.site = site
        self.disk = disk
        self.clock = clock
        self.ledger = ledger
        self.situation = situation
        self.roots = Roots(site.drop, site.approved, site.held, site.gate, site.mark)
        self.settler = Settler(settle_s, site.settings.unended_settle_s)
        self._retry_s = site.settings.rescan_s
        self._sorter = Sorter(self._is_sheet, ends_whole, site.settings.max_sheet_bytes)
        self._readiness = Readiness(
            disk, self.roots, self.settler, situation, rescan_s=self._retry_s
        )
        self._attendant = Attendant(retry_s=self._retry_s)
        self.lease = Lease()
        self._rivals = Rivals(clock.monotonic)
        self._ids: Sequence | None = None
        self._prepared: set[Path] = set()
        self._should_stop: Callable[[], bool] = lambda: False

    def go(self, should_stop: Callable[[], bool] = lambda: False) -> Outlook:
        """Go one round. Raises nothing but faults of the program: trouble is in the outlook."""
        self._should_stop = should_stop
        outlook = Outlook()
        try:
            require_answer(self.disk, self.roots)
            worklist.clear_rubbish(self.disk, self.roots)
            folders = self._drop_folders(outlook)
            desks = self._begun(folders, outlook)
            self.ledger.catch_up()
        except (RoomError, OSError) as error:
            outlook.alarms.append(in_words(error))
            return outlook
        tools = self._tools(desks)
        for desk in desks:
            if not should_stop():
                self.lease.renew(self.disk, self.roots, folders.values())
                self._attendant.work(desk, tools, outlook)
        for workflow, folder in folders.items():
            if not should_stop():
                self.lease.renew(self.disk, self.roots, folders.values())
                self._take_new(workflow, folder, tools, outlook)
        if self.ledger.away:
            outlook.alarms.append(f"the history is away: {self.ledger.away}")
        return outlook

    def check_approved(self) -> Outlook:
        """Take to held what stands in approved without a verdict that holds for it; reads all."""
        outlook = Outlook()
        try:
            require_answer(self.disk, self.roots)
            claim.prepare(self.disk, self.roots, self.roots.drop)
            doubts = list(doubtful_jobs(self.disk, self.roots))
            require_answer(self.disk, self.roots)  # no folder was away during the look
        except (RoomError, OSError) as error:
            outlook.alarms.append(in_words(error))
            return outlook
        tools = self._tools([])
        for doubtful in doubts:
            outlook.alarms.append(f"job {plain(doubtful.name.job)}: {doubtful.reason}")
            now = self.clock.now()
            arrived = now.isoformat(timespec="seconds")
            new_id = tools.ids.next(now)
            self.lease.renew(self.disk, self.roots, [self.roots.drop])
            desk = write_doubt(self.disk, self.roots, doubtful, new_id, arrived)
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

    # -- what is new --------------------------------------------------------------------------

    def _take_new(self, workflow: str, folder: Path, tools: Tools, outlook: Outlook) -> None:
        try:
            listing = self._list(workflow, folder)
        except OSError as error:
            outlook.alarms.append(f"{folder} cannot be read: {error.strerror}")
            return
        for odd in listing.odd:
            waiting = Waiting(workflow or ".", plain(odd.name), odd.reason, blocks_sweep=False)
            outlook.waiting.append(waiting)
        self.settler.look(str(folder), listing.groups, self.clock.monotonic())
        self._sorter.forget_all_but(folder, listing.groups)
        for group in listing.groups:
            if not self._should_stop():
                self._look_at(workflow, folder, group, tools, outlook)

    def _list(self, workflow: str, folder: Path) -> Listing:
        # Folders in drop/ itself are the workflows'; only inside those a folder is a job.
        return list_drop_folder(
            folder,
            self.site.litter,
            with_folders=bool(workflow),
            has_inodes=keeps_inodes(folder),
        )

    def _look_at(
        self, workflow: str, folder: Path, group: Group, tools: Tools, outlook: Outlook
    ) -> None:
        """Take a group if it is ready; whatever happens is said and the round goes on."""
        name = plain(group.hint)
        try:
            told_apart = self._sorter.sort(folder, group)
            if not told_apart.sheets:
                name = ", ".join(plain(file.name) for file in group.files)
            not_yet = self._readiness.not_yet(
                workflow, folder, told_apart, self.clock.monotonic()
            ) or self._take(workflow, folder, told_apart, tools, outlook)
        except (RoomError, OSError) as error:
            outlook.alarms.append(in_words(error))
            not_yet = NotYet(in_words(error), self._retry_s)
        except Exception:
            log.exception("a fault of the program while looking at %s", name)
            outlook.alarms.append(f"{name} {FAILED}")
            not_yet = NotYet(FAILED)
        if not_yet:
            waiting = Waiting(
                workflow or ".",
                name,
                not_yet.reason,
                not_yet.due_s,
                blocks_sweep=not_yet.blocks_sweep,
                is_settling=not_yet.is_settling,
            )
            outlook.waiting.append(waiting)

    def _take(
        self, workflow: str, folder: Path, told_apart: Sorted, tools: Tools, outlook: Outlook
    ) -> NotYet | None:
        if not told_apart.sheets:
            return self._join(workflow, folder, told_apart)
        for sheet in told_apart.sheets:
            if self._should_stop():
                break
            now = self.clock.now()
            ticket = Ticket(
                id=tools.ids.next(now),
                gate=self.site.gate,
                kind=SLIP if workflow == CONCESSIONS else "sheet",
                workflow=workflow,
                arrived=now.isoformat(timespec="seconds"),
                job_hint=told_apart.group.hint,
                sheet=sheet,
                companions=told_apart.companions_of(sheet),
                refusal=told_apart.refusal_of(sheet),
            )
            desk = claim.write_ticket(self.disk, self.roots, ticket)
            self._attendant.work(desk, tools, outlook)
        return None

    def _join(self, workflow: str, folder: Path, told_apart: Sorted) -> NotYet | None:
        """Let companions join their job's folder if it is filed; else they wait and are shown."""
        target = self._folder_of_stem(workflow, told_apart.group.hint)
        if target is None:
            return NotYet("waits for its sheet of readings", blocks_sweep=False)
        for file in told_apart.group.files:
            companions.join_late(self.disk, self.roots, folder / file.name, target)
        return None

    def _folder_of_stem(self, workflow: str, stem: str) -> Path | None:
        jobs = [(workflow, stem), *self.ledger.folders_with_stem(stem)]
        for found_workflow, job in jobs:
            if workflow and found_workflow != workflow:
                continue
            target = companions.filed_folder(self.disk, self.roots, found_workflow, job)
            if target:
                return target
        return None

    def _is_sheet(self, name: str, head: bytes) -> bool:
        return looks_like_sheet(name, head, self.situation().declarations)
