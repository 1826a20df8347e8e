"""One look at a site: what is held and why, what waits, what was approved, what is wrong.

It reads and never writes. Its price does not grow with the history: both lists are cut by the
database, and a verdict that was read once is not read again.
"""

from __future__ import annotations

from datetime import datetime
from itertools import islice
from pathlib import PurePath
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import Disk
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.screens.alarms import alarms_of, dues_of
from gatekeeper.screens.page_names import job_href, workflow_href
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.room_facts import (
    Alarm,
    ApprovedJob,
    HeldJob,
    RoomFacts,
    Waits,
    WorkflowFacts,
    approved_job,
    held_job,
    held_line,
)
from gatekeeper.verdict import Decision
from gatekeeper.wording import plain
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.history.past import Counts, JobLine
    from gatekeeper.room import Book
    from gatekeeper.rounds.outlook import Waiting
    from gatekeeper.screens.present import Present
    from gatekeeper.site import Site
    from gatekeeper.verdict_document import VerdictRecord

MOST_HELD = 200
MOST_APPROVED = 100
MOST_WAITS = 200
"""Rows of each list on a screen: beyond them it says how many more, and which command tells."""

MOST_ALIKE = 5
"""So many files that wait in one folder for the same have a row each; more have one together."""


class Glance:
    """Looks at a site again and again, from one thread."""

    def __init__(self, site: Site, clock: Clock) -> None:
        self.site = site
        self.clock = clock
        self._disk = Disk()
        self._history = lookup_of(site, clock)
        self._held: dict[str, HeldJob] = {}  # by ticket: a verdict is never changed

    def look(self, book: Book, present: Present | None, silent: Alarm | None = None) -> RoomFacts:
        """Return how the site stands.

        Parameters
        ----------
        present : what the daemon saw last
        silent : the alarm that it says nothing any more, None while it does
        """
        alarms = [silent] if silent else []
        alarms += alarms_of(self.site, present)
        try:
            held, approved = self._listed()
            counts = self._counts(book, self._history.counts(), held)
        except HistoryAwayError as error:
            held, approved, counts = self._held_on_disk(), (), None
            if not isinstance(error, NoHistoryYetError):
                alarms.append(Alarm(f"the history is away: {plain(error.what, 300)}", error.do))
            elif not self._has_approved():
                counts = self._counts(book, None, held)
        waits = _waits(present)
        waiting = len(present.waiting) if present else 0
        return RoomFacts(
            room=plain(self.site.name),
            is_at_work=silent is None,
            alarms=_each_once(alarms),
            held=held,
            held_in_all=max(len(held), sum(entry.held for entry in counts or ())),
            waits=waits,
            waits_beyond=waiting - sum(entry.files for entry in waits),
            approved=approved,
            approved_in_all=None if counts is None else sum(entry.approved for entry in counts),
            dues=dues_of(book, self.clock.now().astimezone(self.site.time_zone).date()),
            news=tuple(plain(says, LONGEST) for says in present.news) if present else (),
            workflows=self._counts(book, None, held) if counts is None else counts,
        )

    def close(self) -> None:
        """Let go of the history."""
        self._history.close()

    def _listed(self) -> tuple[tuple[HeldJob, ...], tuple[ApprovedJob, ...]]:
        held_lines = self._history.jobs(state=Decision.HELD, limit=MOST_HELD)
        held = {line.ticket: self._held_job(line) for line in held_lines}
        self._held = {ticket: job for ticket, job in held.items() if job.href}
        approved = self._history.jobs(state=Decision.APPROVED, limit=MOST_APPROVED)
        zone = self.site.time_zone
        return tuple(held.values()), tuple(
            approved_job(line, zone, job_href(PurePath(line.folder))) for line in approved
        )

    def _held_job(self, line: JobLine) -> HeldJob:
        if line.ticket in self._held:
            return self._held[line.ticket]
        record = self._record(self.site.root / line.folder)
        if record is None or record.verdict.ticket != line.ticket:
            return held_line(line, self.site.time_zone)
        href = job_href(PurePath(line.folder))
        return held_job(record.verdict, line.filed_at, self.site.time_zone, href)

    def _held_on_disk(self) -> tuple[HeldJob, ...]:
        """Return the held jobs by their folders, the newest first: these are the record."""
        folders = [
            (entry.stat().st_mtime, entry)
            for shelf in _folders(self.site.held)
            for entry in _folders(shelf)
        ]
        newest = sorted(folders, key=lambda pair: pair[0], reverse=True)[:MOST_HELD]
        records = ((folder, self._record(folder)) for _, folder in newest)
        return tuple(
            held_job(
                record.verdict,
                datetime.fromisoformat(record.verdict.arrived),
                self.site.time_zone,
                job_href(folder),
            )
            for folder, record in records
            if record
        )

    def _record(self, folder: Path) -> VerdictRecord | None:
        """Return the verdict of a folder; one that cannot be opened does not hide the others."""
        try:
            return read_record(self._disk, folder / VERDICT)
        except OSError:
            return None

    def _has_approved(self) -> bool:
        return any(any(shelf.iterdir()) for shelf in _folders(self.site.approved))

    def _counts(
        self, book: Book, counts: Counts | None, held: tuple[HeldJob, ...]
    ) -> tuple[WorkflowFacts, ...]:
        """Return every workflow that the rules know or that has jobs, with its jobs."""
        known = {entry.workflow: entry for entry in counts.by_workflow} if counts else {}
        titles = {name: entry.title for name, entry in book.library.workflows.items()}
        return tuple(
            WorkflowFacts(
                name=plain(name),
                title=plain(titles.get(name, "")),
                approved=known[name].approved if name in known else 0,
                held=known[name].held if name in known else 0,
                href=workflow_href(name),
            )
            for name in sorted({*titles, *known, *(job.workflow for job in held)})
        )


def _folders(root: Path) -> list[Path]:
    try:
        return [entry for entry in root.iterdir() if entry.name[0] != "." and entry.is_dir()]
    except OSError:
        return []


def _waits(present: Present | None) -> tuple[Waits, ...]:
    """Return what waits, first what somebody must act on; many files alike in a folder are one."""
    alike: dict[tuple[str, str], list[Waiting]] = {}
    entries = sorted(present.waiting if present else (), key=lambda entry: entry.is_settling)
    for entry in entries:
        alike.setdefault((entry.folder, entry.reason), []).append(entry)
    rows = (
        (entry, number)
        for group in alike.values()
        for entry, number in (
            [(group[0], len(group))] if len(group) > MOST_ALIKE else [(each, 1) for each in group]
        )
    )
    return tuple(
        Waits(plain(entry.name), plain(entry.folder), plain(entry.reason, 300), number)
        for entry, number in islice(rows, MOST_WAITS)
    )


def _each_once(alarms: list[Alarm]) -> tuple[Alarm, ...]:
    return tuple({alarm.says: alarm for alarm in alarms}.values())
