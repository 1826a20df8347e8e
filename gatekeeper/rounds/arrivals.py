"""What is new in a drop folder: told apart, looked at, and taken through the gate side by side."""

from __future__ import annotations

import logging
from contextlib import contextmanager, suppress
from functools import partial
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing import claim, companions
from gatekeeper.filing.tickets import Ticket
from gatekeeper.intake.readiness import NotYet, Readiness
from gatekeeper.intake.scan import Group, Listing, list_drop_folder
from gatekeeper.intake.shares import is_of_this_machine, keeps_inodes
from gatekeeper.intake.sorting import Sorted, Sorter
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.whole import ends_whole
from gatekeeper.rounds.attendant import FAILED
from gatekeeper.rounds.outlook import WITHOUT_SHEET, Outlook, Waiting, in_words
from gatekeeper.rounds.side_by_side import batches, run_side_by_side
from gatekeeper.rounds.stillness import Stillness, entries_of, has_folders, mark_of
from gatekeeper.rules.job_ticket import DROP_WITH_SHEET, is_ticket
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.slips.conceding import SLIP
from gatekeeper.wording import listing, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.desk import Desk, Roots
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.lease import Lease
    from gatekeeper.filing.tickets import Identity
    from gatekeeper.gate import Tools
    from gatekeeper.intake.settle import Settler
    from gatekeeper.intake.situation import Situation
    from gatekeeper.record.ledger import Ledger
    from gatekeeper.rounds.attendant import Attendant
    from gatekeeper.site import Site

log = logging.getLogger(__name__)


class Arrivals:
    """Takes what is at rest in a drop folder, and says of everything else what it waits for."""

    def __init__(
        self,
        *,
        site: Site,
        roots: Roots,
        disk: Disk,
        clock: Clock,
        ledger: Ledger,
        situation: Callable[[], Situation],
        settler: Settler,
        attendant: Attendant,
        lease: Lease,
        heard: Callable[[Path], object],
    ) -> None:
        """Hand over what the room's rounds go by.

        Parameters
        ----------
        heard : what was heard from a folder so far, another value after each event; None where
            nobody listens to it
        """
        self._site = site
        self._roots = roots
        self._disk = disk
        self._clock = clock
        self._ledger = ledger
        self._situation = situation
        self._settler = settler
        self._attendant = attendant
        self._lease = lease
        self._heard = heard
        self._heard_before: dict[Path, object] = {}
        self._retry_s = site.settings.rescan_s
        self._stillness = Stillness()
        self._sorter = Sorter(self._is_sheet, ends_whole, site.settings.max_sheet_bytes)
        self._readiness = Readiness(disk, roots, settler, situation, rescan_s=self._retry_s)

    def look_ahead(self, folders: Mapping[str, Path]) -> None:
        """Take the first of two looks at once where something was heard since the last one.

        The round has other things to see to before it takes anything: where a file is taken as soon
        as two looks agree, the second need not be another round's. Where files have to rest for
        longer this would save nothing.
        """
        if self._settler.settle_s > 0:
            return
        for workflow, folder in folders.items():
            heard = self._heard(folder)
            if heard is None or heard == self._heard_before.get(folder):
                continue
            self._heard_before[folder] = heard
            with suppress(OSError):  # who takes from it will say so
                groups = self._list(workflow, folder).groups
                self._settler.look(str(folder), groups, self._clock.monotonic())

    def take(
        self,
        workflow: str,
        folder: Path,
        tools: Tools,
        outlook: Outlook,
        should_stop: Callable[[], bool],
    ) -> None:
        """Take what is ready in a drop folder; whatever happens is said, and the round goes on."""
        rules, now = self._situation().library, self._clock.monotonic()
        if self._ledger.take_filling():
            self._stillness.forget_all()
        self._stillness.filed(self._ledger.take_names())
        try:
            mark = mark_of(folder, self._heard(folder))
            known = self._stillness.unstirred(folder, mark, rules, now)
            if known is not None:
                outlook.waiting += known
                return
            entries = entries_of(folder, with_folders=bool(workflow))
            known = self._stillness.waiting_in(folder, entries, rules, now, mark)
            if known is not None:
                outlook.waiting += known
                return
            listing = self._list(workflow, folder)
        except OSError as error:
            self._stillness.forget(folder)
            outlook.alarms.append(f"{folder} cannot be read: {error.strerror}")
            return
        found = Outlook()
        is_still = self._take_listed(
            workflow, folder, listing, tools, found, should_stop=should_stop
        )
        if is_still and not found.alarms and not self._ledger.away:
            is_told = is_of_this_machine(folder) and not (workflow and has_folders(entries))
            self._stillness.keep(
                folder, entries, rules, found.waiting, now, mark=mark, is_told=is_told
            )
        else:
            self._stillness.forget(folder)
        outlook.add(found)

    def _take_listed(
        self,
        workflow: str,
        folder: Path,
        listing: Listing,
        tools: Tools,
        outlook: Outlook,
        *,
        should_stop: Callable[[], bool],
    ) -> bool:
        """Take what is ready among what was listed; say if nothing was."""
        for odd in listing.odd:
            outlook.waiting.append(Waiting(workflow or ".", plain(odd.name), odd.reason))
        self._settler.look(str(folder), listing.groups, self._clock.monotonic())
        self._sorter.forget_all_but(folder, listing.groups)
        self._stillness.forget_stems(folder, [group.hint for group in listing.groups])
        untaken = [
            group
            for group in listing.groups
            if not any(folder / file.name in tools.unclaimed for file in group.files)
        ]
        is_still = len(untaken) == len(listing.groups)
        looked_at = (self._look_at(workflow, folder, group, outlook) for group in untaken)
        for batch in batches(group for group in looked_at if group):
            is_still = False
            if should_stop():
                break
            self._take_batch(workflow, folder, batch, tools, outlook)
        return is_still

    def _list(self, workflow: str, folder: Path) -> Listing:
        # Folders in drop/ itself are the workflows'; only inside those a folder is a job.
        return list_drop_folder(
            folder,
            self._site.litter,
            with_folders=bool(workflow),
            has_inodes=keeps_inodes(folder),
        )

    def _is_sheet(self, name: str, head: bytes) -> bool:
        return looks_like_sheet(name, head, self._situation().declarations)

    # -- one by one ---------------------------------------------------------------------------

    def _look_at(
        self, workflow: str, folder: Path, group: Group, outlook: Outlook
    ) -> Sorted | None:
        """Return a group of files if its sheets are to be taken; else say what it waits for."""
        name = plain(group.hint)
        with self._told_if_it_fails(workflow, name, outlook):
            told_apart = self._sorter.sort(folder, group)
            if not told_apart.sheets:
                name = ", ".join(plain(file.name) for file in group.files)
            now = self._clock.monotonic()
            not_yet = self._readiness.not_yet(workflow, folder, told_apart, now)
            if not not_yet and told_apart.sheets:
                return told_apart
            not_yet = not_yet or self._join(workflow, folder, told_apart)
            if not_yet:
                outlook.waiting.append(_waiting(workflow, name, not_yet))
            if not_yet and not_yet.is_alarm and not_yet.reason not in outlook.alarms:
                outlook.alarms.append(not_yet.reason)
        return None

    def _join(self, workflow: str, folder: Path, told_apart: Sorted) -> NotYet | None:
        """Let companions join their job's folder if it is filed; else they wait and are shown."""
        stem, now = told_apart.group.hint, self._clock.monotonic()
        target = None
        if not self._stillness.is_jobless(folder, stem, now):
            target = self._folder_of_stem(workflow, stem)
        if target is None:
            if not self._ledger.away:  # else it knows the job perhaps, and will be asked again
                self._stillness.note_jobless(folder, stem, now)
            return NotYet(WITHOUT_SHEET)
        is_approved = target.is_relative_to(self._roots.approved)
        tickets = [plain(file.name) for file in told_apart.group.files if is_ticket(file.name)]
        for file in told_apart.group.files:
            if not (is_approved and is_ticket(file.name)):
                companions.join_late(self._disk, self._roots, folder / file.name, target)
        if is_approved and tickets:
            # Joined, it would ask nothing of a job that may be plated; here everybody sees it.
            job = plain(target.name)
            says = f"job {job} was approved without {listing(tickets)}: {DROP_WITH_SHEET}"
            return NotYet(says, is_alarm=True)
        return None

    def _folder_of_stem(self, workflow: str, stem: str) -> Path | None:
        jobs = [(workflow, stem), *self._ledger.folders_with_stem(stem)]
        for found_workflow, job in jobs:
            if workflow and found_workflow != workflow:
                continue
            target = companions.filed_folder(self._disk, self._roots, found_workflow, job)
            if target:
                return target
        return None

    @contextmanager
    def _told_if_it_fails(self, workflow: str, name: str, outlook: Outlook) -> Iterator[None]:
        """Say whatever happens to one group: it is that group's, and others go on."""
        try:
            yield
        except (RoomError, OSError) as error:
            outlook.alarms.append(in_words(error))
            not_yet = NotYet(in_words(error), self._retry_s)
            outlook.waiting.append(_waiting(workflow, name, not_yet))
        except Exception:
            log.exception("a fault of the program while looking at %s", name)
            outlook.alarms.append(f"{name} {FAILED}")
            outlook.waiting.append(_waiting(workflow, name, NotYet(FAILED)))

    # -- side by side -------------------------------------------------------------------------

    def _take_batch(
        self, workflow: str, folder: Path, batch: Sequence[Sorted], tools: Tools, outlook: Outlook
    ) -> None:
        """Take groups through the gate side by side; what they left behind goes one by one."""
        further: list[Desk] = []

        def take(told_apart: Sorted, tools: Tools) -> None:
            with self._told_if_it_fails(workflow, plain(told_apart.group.hint), outlook):
                further.extend(self._take(workflow, told_apart, tools, outlook))

        def show_life() -> None:
            self._lease.renew(self._disk, self._roots, [folder])

        show_life()
        tasks = [partial(take, told_apart) for told_apart in batch]
        folders = (self._roots.drop, folder, self._roots.held, self._roots.approved)
        run_side_by_side(tools, self._ledger, tasks, folders, show_life)
        for desk in further:
            self._attendant.work(desk, tools, outlook)

    def _take(
        self, workflow: str, told_apart: Sorted, tools: Tools, outlook: Outlook
    ) -> Iterator[Desk]:
        # Each sheet has its ticket before the first is worked on. Cut among refused ones, what has
        # none would be found alone, and nothing would speak against it; the others' name it.
        desks = [self._begin(workflow, told_apart, sheet, tools) for sheet in told_apart.sheets]
        for desk in desks:
            further = self._attendant.work_once(desk, tools, outlook)
            if further:
                yield further

    def _begin(self, workflow: str, told_apart: Sorted, sheet: Identity, tools: Tools) -> Desk:
        now = self._clock.now()
        ticket = Ticket(
            id=tools.ids.next(now),
            gate=self._site.gate,
            kind=SLIP if workflow == CONCESSIONS else "sheet",
            workflow=workflow,
            arrived=now.isoformat(timespec="seconds"),
            job_hint=told_apart.group.hint,
            sheet=sheet,
            companions=told_apart.companions_of(sheet),
            refusal=told_apart.refusal_of(sheet),
            beside=told_apart.refused_beside(sheet),
        )
        return claim.write_ticket(self._disk, self._roots, ticket)


def _waiting(workflow: str, name: str, not_yet: NotYet) -> Waiting:
    return Waiting(
        workflow or ".",
        name,
        not_yet.reason,
        not_yet.due_s,
        is_settling=not_yet.is_settling,
    )
