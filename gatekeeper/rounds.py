"""One round over the drop folders: finish what was begun, take what is at rest, say what waits.

`sweep` goes one round, the daemon goes round whenever something wakes it. One job's failure is that
job's: a round never ends early because of one file.
"""

from __future__ import annotations

import errno
import logging
import os
from typing import TYPE_CHECKING

from gatekeeper.errors import GatekeeperError, RoomError, RulesError, UnreadableSheetError
from gatekeeper.filing import attempts, claim, companions, recovery
from gatekeeper.filing.desk import WORK, Desk, Roots
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.filing.online import require_online
from gatekeeper.filing.tickets import Ticket, new_id
from gatekeeper.gate import Tools, pass_gate
from gatekeeper.intake.scan import CONCESSIONS, Group, is_litter, list_drop_folder
from gatekeeper.intake.settle import Settler, someone_writes
from gatekeeper.intake.sorting import Sorted, Sorter
from gatekeeper.outlook import FiledJob, Outlook, Waiting
from gatekeeper.readers.choose import looks_like_sheet, read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.readers.whole import ends_whole
from gatekeeper.show.facts import one_line
from gatekeeper.wording import plain
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation
    from gatekeeper.ledger import Ledger
    from gatekeeper.site import Site
    from gatekeeper.yamlfiles.places import FileProblem

ROOM_TO_SPARE = 20_000_000
"""Free bytes, beside twice the group's own size, below which nothing new is claimed."""

ARRIVING = "still arriving"

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
        self.roots = Roots(site.drop, site.approved, site.held, site.gate)
        self.settler = Settler(settle_s, site.settings.unended_settle_s)
        self.sorter = Sorter(self._is_sheet, ends_whole, site.settings.max_sheet_bytes)
        self._begun: set[str] = set()  # tickets on which this run of the program has begun
        self._faults: dict[str, str] = {}  # ticket → what failed inside the program
        self._should_stop: Callable[[], bool] = lambda: False

    def go(self, should_stop: Callable[[], bool] = lambda: False) -> Outlook:
        """Go one round. Raises nothing but faults of the program: trouble is in the outlook."""
        self._should_stop = should_stop
        outlook = Outlook()
        try:
            require_online(self.disk, self.roots, self.site.mark)
            folders = dict(self._drop_folders())
            recovery.clear_rubbish(self.disk, self.roots)
        except (RoomError, OSError) as error:
            outlook.alarms.append(_words(error))
            return outlook
        tools = Tools(self.disk, self.clock, self.situation(), self.ledger)
        self._finish_begun(folders, tools, outlook)
        for workflow, folder in folders.items():
            if not should_stop():
                self._take_new(workflow, folder, tools, outlook)
        if self.ledger.away:
            outlook.alarms.append(f"the history is away: {self.ledger.away}")
        return outlook

    # -- drop folders -------------------------------------------------------------------------

    def _drop_folders(self) -> Iterator[tuple[str, Path]]:
        """Yield workflow name and folder; drop/ itself has no workflow's name."""
        claim.prepare(self.disk, self.roots, self.roots.drop)
        yield "", self.roots.drop
        names = set(self.disk.names(self.roots.drop)) | set(self.situation().library.workflows)
        for name in sorted(names):
            if name in {WORK, CONCESSIONS} or is_litter(name, self.site.litter):
                continue
            folder = self.roots.drop / name
            if self.disk.lstat(folder) is None:
                self.disk.make_folder(folder)  # a workflow's; its root is online
            if self.disk.is_folder(folder):
                claim.prepare(self.disk, self.roots, folder)
                yield name, folder

    # -- what was begun -----------------------------------------------------------------------

    def _finish_begun(self, folders: dict[str, Path], tools: Tools, outlook: Outlook) -> None:
        desks: list[Desk] = []
        for workflow, folder in folders.items():
            try:
                found = recovery.tickets_in(self.disk, self.roots, folder, workflow)
            except (RoomError, OSError) as error:
                outlook.alarms.append(_words(error))
                continue
            desks += [Desk(self.roots, ticket) for ticket in found]
        for desk in sorted(desks, key=lambda entry: entry.ticket.id):
            if self._should_stop():
                return
            self._work(desk, tools, outlook)

    def _work(self, desk: Desk, tools: Tools, outlook: Outlook) -> None:
        """Take one ticket through the gate; whatever happens is said and the round goes on."""
        ticket = desk.ticket
        is_new = ticket.id not in self._begun
        self._begun.add(ticket.id)
        try:
            passed = pass_gate(
                desk, tools, is_new_start=is_new, fault=self._faults.get(ticket.id, "")
            )
        except BrokenFilesError as error:
            self._waits(desk, tools, outlook, _rules_reason(error.problems), None)
        except RulesError as error:
            self._waits(desk, tools, outlook, error.what, None)
        except (RoomError, OSError) as error:
            outlook.alarms.append(_words(error))
            self._waits(desk, tools, outlook, _words(error), self.site.settings.rescan_s)
        except Exception:
            log.exception("a fault of the program while working on %s", plain(ticket.sheet.name))
            self._failed(desk, tools, outlook)
        else:
            self._begun.discard(ticket.id)
            self._faults.pop(ticket.id, None)
            if passed:
                outlook.filed.append(self._filed(passed.folder))
                for further in passed.further:
                    self._work(further, tools, outlook)

    def _failed(self, desk: Desk, tools: Tools, outlook: Outlook) -> None:
        """After a fault of the program, hold the sheet unread; after the second, let it rest."""
        ticket = desk.ticket
        if ticket.id in self._faults:
            reason = "fails inside the program; see the log"
            outlook.alarms.append(f"{plain(ticket.sheet.name)} {reason}")
            self._waits(desk, tools, outlook, reason, None)
            return
        self._faults[ticket.id] = "the program failed on this sheet; the log says how"
        self._work(desk, tools, outlook)

    def _waits(
        self, desk: Desk, tools: Tools, outlook: Outlook, reason: str, due_s: float | None
    ) -> None:
        name = attempts.noted_job(self.disk, desk)
        if name:
            tools.stuck.setdefault((name.workflow, name.folder), desk.ticket.id)
        where = desk.ticket.workflow or "."
        outlook.waiting.append(Waiting(where, plain(desk.ticket.sheet.own_name), reason, due_s))

    def _filed(self, folder: Path) -> FiledJob:
        record = read_record(self.disk, folder / VERDICT)
        if record is None:
            raise RoomError(f"{folder} was filed a moment ago and its verdict cannot be read")
        verdict = record.verdict
        log.info(
            "%s %s %s: %s",
            verdict.decision.value,
            verdict.workflow,
            plain(verdict.job),
            one_line(verdict),
        )
        return FiledJob(
            job=verdict.job,
            workflow=verdict.workflow,
            customer=verdict.customer,
            decision=verdict.decision.value,
            reason=one_line(verdict),
            folder=str(folder),
        )

    # -- what is new --------------------------------------------------------------------------

    def _take_new(self, workflow: str, folder: Path, tools: Tools, outlook: Outlook) -> None:
        try:
            # Folders in drop/ itself are the workflows'; only inside those a folder is a job.
            listing = list_drop_folder(folder, self.site.litter, with_folders=bool(workflow))
        except OSError as error:
            outlook.alarms.append(f"{folder} cannot be read: {error.strerror}")
            return
        where = workflow or "."
        for odd in listing.odd:
            outlook.waiting.append(Waiting(where, plain(odd.name), odd.reason, blocks_sweep=False))
        now = self.clock.monotonic()
        self.settler.look(str(folder), listing.groups, now)
        for group in listing.groups:
            if not self._should_stop():
                self._take_group(workflow, folder, group, tools, outlook)

    def _take_group(
        self, workflow: str, folder: Path, group: Group, tools: Tools, outlook: Outlook
    ) -> None:
        told_apart = self.sorter.sort(folder, group)
        reason, due_s = self._not_yet(workflow, folder, told_apart)
        if reason:
            settles = reason.startswith(ARRIVING)
            outlook.waiting.append(
                Waiting(workflow or ".", plain(group.hint), reason, due_s, is_settling=settles)
            )
            return
        try:
            if told_apart.sheets:
                self._take_sheets(workflow, told_apart, tools, outlook)
            else:
                self._take_companions(workflow, folder, told_apart, outlook)
        except (RoomError, OSError) as error:
            outlook.alarms.append(_words(error))
            outlook.waiting.append(
                Waiting(
                    workflow or ".", plain(group.hint), _words(error), self.site.settings.rescan_s
                )
            )

    def _not_yet(self, workflow: str, folder: Path, told_apart: Sorted) -> tuple[str, float | None]:
        """Return why a group is not taken now and when to look again; an empty reason: take it."""
        group = told_apart.group
        rest_s = self.settler.rests_in(
            str(folder), group, self.clock.monotonic(), whole=told_apart.ends_whole
        )
        if rest_s > 0:
            return f"{ARRIVING}: not at rest yet", rest_s
        if told_apart.unopened:
            return f"cannot be opened: {plain(told_apart.unopened)}", self.site.settings.rescan_s
        for file in group.files:
            if someone_writes(folder / file.name):
                return f"{ARRIVING}: a program has it open for writing", max(
                    self.settler.settle_s, 0.5
                )
        if told_apart.sheets:
            problems = self._rules_in_the_way(workflow, folder, told_apart)
            if problems:
                return _rules_reason(problems), None
            if not self._has_room(group):
                return (
                    "the disk is nearly full: nothing new is taken in",
                    self.site.settings.rescan_s,
                )
        return "", None

    def _rules_in_the_way(
        self, workflow: str, folder: Path, told_apart: Sorted
    ) -> tuple[FileProblem, ...]:
        """Return the problems of the rule files that govern a group; sheets are read if need be."""
        situation = self.situation()
        problems = situation.blocks(workflow) if workflow else situation.for_all
        if problems or not situation.library.problems:
            return problems
        for file in told_apart.sheets:
            try:
                content = self.disk.read(folder / file.name, situation.declarations.max_bytes)
                sheet = read_sheet(RawFile(file.own_name, content), situation.declarations)
            except (OSError, UnreadableSheetError):
                continue  # it is held as unreadable, whatever the rules say
            for negative in sheet.negatives:
                named = workflow or (negative.workflow.value if negative.workflow else "")
                customer = negative.customer.value if negative.customer else ""
                try:
                    situation.require_good_rules(named, customer)
                except BrokenFilesError as error:
                    return error.problems
        return ()

    def _has_room(self, group: Group) -> bool:
        free = os.statvfs(self.roots.held)
        return free.f_bavail * free.f_frsize > 2 * group.size + ROOM_TO_SPARE

    def _take_sheets(
        self, workflow: str, told_apart: Sorted, tools: Tools, outlook: Outlook
    ) -> None:
        for sheet in told_apart.sheets:
            now = self.clock.now()
            ticket = Ticket(
                id=new_id(now),
                gate=self.site.gate,
                kind="sheet",
                workflow=workflow,
                arrived=now.isoformat(timespec="seconds"),
                job_hint=told_apart.group.hint,
                sheet=sheet,
                companions=told_apart.companions_of(sheet),
                refusal=told_apart.refusal,
            )
            desk = claim.write_ticket(self.disk, self.roots, ticket)
            self._work(desk, tools, outlook)

    def _take_companions(
        self, workflow: str, folder: Path, told_apart: Sorted, outlook: Outlook
    ) -> None:
        """Let companions join their job's folder if it is filed; else they wait and are shown."""
        group = told_apart.group
        target = self._folder_of_stem(workflow, group.hint)
        if target is None:
            reason = "waits for its sheet of readings"
            outlook.waiting.append(
                Waiting(
                    workflow or ".",
                    ", ".join(plain(file.name) for file in group.files),
                    reason,
                    blocks_sweep=False,
                )
            )
            return
        for file in group.files:
            name = companions.join(self.disk, folder, file, target)
            log.info("late companion %s joined %s", plain(name), target)

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


def _rules_reason(problems: Iterable[FileProblem]) -> str:
    first = min(problems)
    return f"waits for its rules: {first.place} {first.what}"


def _words(error: Exception) -> str:
    if isinstance(error, GatekeeperError):
        return error.what + (f"; {error.do}" if error.do else "")
    if isinstance(error, OSError):
        name = errno.errorcode.get(error.errno or 0, "")
        return f"{error.strerror or error} ({name}): {plain(str(error.filename or ''), 200)}"
    return str(error)
