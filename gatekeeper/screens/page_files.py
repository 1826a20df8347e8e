"""Writes the pages of a site into state/page: each whole, then swapped in, only when it changed.

A page is a help for the eye, not a record: it is not flushed, and nothing that goes wrong with it
may keep the gate from its work. What it costs does not grow with the history: the room's page shows
the newest jobs only, and a job's own page is written when the job is filed.
"""

from __future__ import annotations

import logging
import os
from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from gatekeeper.control.base_period import FEWEST_READINGS
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.screens.alarms import START
from gatekeeper.screens.all_rooms import AllRooms
from gatekeeper.screens.glance import Glance
from gatekeeper.screens.lookup import earlier_verdicts
from gatekeeper.screens.old_pages import remove_old_pages
from gatekeeper.screens.page_names import JOBS, folder_of, path_of, workflow_href
from gatekeeper.show.earlier import courses, judgements
from gatekeeper.show.facts import facts_of
from gatekeeper.show.moments import moment
from gatekeeper.show.page import (
    INDEX,
    RENEWAL_S,
    ROOMS,
    STILL,
    WALL,
    JobPage,
    WorkflowPage,
    index_page,
    job_page,
    rooms_page,
    workflow_page,
)
from gatekeeper.show.room_facts import Alarm
from gatekeeper.wording import plain
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from gatekeeper.clock import Clock
    from gatekeeper.control.chart_facts import ChartFacts
    from gatekeeper.control.tone_facts import ToneFacts
    from gatekeeper.room import Book
    from gatekeeper.screens.present import Present
    from gatekeeper.show.room_facts import ApprovedJob, HeldJob, RoomFacts
    from gatekeeper.show.shared_rooms import SharedRooms
    from gatekeeper.site import Site
    from gatekeeper.verdict import Verdict

FOLDER = "page"

SOONEST_S = 2.0
"""The room's page is not written more often than this (s)."""

SPELL_S = 0.5
"""Jobs' pages are written for so long at a time (s), then the gate has its turn again."""

DAY_S = 86400.0
"""Old pages are looked for so often (s)."""

log = logging.getLogger(__name__)


class Pages:
    """The pages of a site, kept up to date from one thread."""

    def __init__(self, site: Site, clock: Clock, rooms: AllRooms | None = None) -> None:
        self.site = site
        self.root = site.state / FOLDER
        self._charts: tuple[ChartFacts, ...] = ()
        self._curves: tuple[ToneFacts, ...] = ()
        self._clock = clock
        self._disk = Disk()
        self._glance = Glance(site, clock)
        self._rooms = rooms or AllRooms(site, clock)
        self._rooms_shown: SharedRooms | None = None
        self._shown: RoomFacts | None = None
        self._written_at = 0.0
        self._cleared_at: float | None = None
        self._tickets: dict[str, str] = {}  # page of a job → the verdict that it shows
        self._seen: object = None
        self._last: tuple[Book, Present] | None = None
        self._owes = False
        self._is_well = True

    def follow(self, book: Book, present: Present, *, filed: bool = True) -> None:
        """Bring the pages up to date with the site; whatever fails is said once, never raised.

        Parameters
        ----------
        present : what the round saw
        filed : whether it filed something; else the history need not be asked
        """
        rooms = self._rooms.look()
        rules = present.broken_rules, present.coming_rules
        seen = book, present.waiting, present.alarms, rules, present.news, rooms
        is_news = filed or seen != self._seen or self._shown is None
        self._seen, self._last = seen, (book, present)
        if is_news or self._owes or self._age_s > RENEWAL_S:
            self._safely(None)

    def catch_up(self) -> None:
        """Write what was put off, because the last writing was a moment ago or took too long."""
        if self._owes:
            self._safely(None)

    def end(self) -> None:
        """Say on the page that the gate ends here, so that it does not go on looking alive."""
        when = moment(self._clock.now(), self.site.time_zone)
        self._safely(Alarm(f"NOTHING IS JUDGED: the gate was stopped at {when}", START))
        self._glance.close()

    def show_trends(
        self, charts: tuple[ChartFacts, ...], curves: tuple[ToneFacts, ...] = ()
    ) -> None:
        """Show these charts on the pages of their workflows from the next writing on."""
        if (charts, curves) != (self._charts, self._curves):
            self._charts, self._curves, self._shown = charts, curves, None

    @property
    def _age_s(self) -> float:
        return self._clock.monotonic() - self._written_at

    def _safely(self, stopped: Alarm | None) -> None:
        if self._last is None:
            return
        try:
            self._write_all(*self._last, stopped)
        except OSError as error:
            self._is_ill(f"{error.strerror} ({error.filename})")
        except Exception as error:  # the gate goes on whatever is wrong with its page
            if self._is_well:
                log.exception("a fault of the program while writing the page")
            self._is_ill(str(error))
        else:
            self._is_well = True

    def _is_ill(self, why: str) -> None:
        if self._is_well:
            log.warning("the page cannot be written: %s", plain(why, 300))
        self._is_well = False

    def _write_all(self, book: Book, present: Present, stopped: Alarm | None) -> None:
        if self._shown is not None and self._age_s < SOONEST_S and not stopped:
            self._owes = True
            return
        facts = self._glance.look(book, present, stopped)
        self._owes = not self._write_jobs([*facts.held, *facts.approved], book)
        rooms_href = self._write_rooms(stopped)
        facts = replace(self._linked(facts), rooms_href=rooms_href)  # pages before links to them
        if facts != self._shown or self._age_s > RENEWAL_S:
            self._write_room(facts, book)
            self._shown, self._written_at = facts, self._clock.monotonic()
        self._clear()

    def _clear(self) -> None:
        """Once a day, take away pages of jobs to which nothing leads any more."""
        now = self._clock.monotonic()
        if self._owes or (self._cleared_at is not None and now - self._cleared_at < DAY_S):
            return
        self._cleared_at = now
        listed = {self.root / path_of(href) for href in self._tickets}
        remove_old_pages(self.root / JOBS, listed, self._clock.now())

    def _write_room(self, facts: RoomFacts, book: Book) -> None:
        written = moment(self._clock.now(), self.site.time_zone)
        for workflow, page in self._workflows(facts, book, written):
            self._write(path_of(workflow_href(workflow)), workflow_page(page))
        for name in (STILL, WALL, INDEX):
            self._write(path_of(name), index_page(facts, written=written, name=name))

    def _write_rooms(self, stopped: Alarm | None) -> str:
        """Write the page of the rooms that share the history; return its name, "" without one."""
        facts, path = self._rooms.seen, self.root / ROOMS
        if facts is None and self._rooms.may_be_several:
            return ROOMS if path.is_file() else ""  # the first look has not ended
        is_known = bool(facts and not facts.asked and path.is_file())  # by an earlier start
        if facts is None or not (facts.is_shared or is_known):
            path.unlink(missing_ok=True)
            return ""
        if stopped:
            says = f"{facts.room}: {stopped.says}. This page is not renewed any more"
            facts = replace(facts, alarms=(replace(stopped, says=says), *facts.alarms))
        if facts != self._rooms_shown or self._age_s > RENEWAL_S:
            written = moment(self._clock.now(), self.site.time_zone)
            self._write(PurePosixPath(ROOMS), rooms_page(facts, written=written))
            self._rooms_shown = facts
        return ROOMS

    def _workflows(
        self, facts: RoomFacts, book: Book, written: str
    ) -> Iterator[tuple[str, WorkflowPage]]:
        for entry in facts.workflows:
            yield (
                entry.name,
                WorkflowPage(
                    room=facts.room,
                    facts=entry,
                    written=written,
                    zone=self.site.time_zone,
                    held=tuple(job for job in facts.held if job.workflow == entry.name),
                    approved=tuple(job for job in facts.approved if job.workflow == entry.name),
                    dues=tuple(due for due in facts.dues if entry.name in due.workflows),
                    limits=tuple(_limits(book, entry.name)),
                    charts=tuple(
                        chart
                        for chart in self._charts
                        if chart.workflow == entry.name and len(chart.points) >= FEWEST_READINGS
                    ),
                    curves=tuple(curve for curve in self._curves if curve.workflow == entry.name),
                ),
            )

    def _write_jobs(self, jobs: Iterable[HeldJob | ApprovedJob], book: Book) -> bool:
        """Write the pages that show another verdict than their job's; False if a spell was short.

        A job that was never among the newest has no page; `why` tells of every job.
        """
        listed = {job.href: job.ticket for job in jobs if job.href}
        self._tickets = {href: seen for href, seen in self._tickets.items() if href in listed}
        ends = self._clock.monotonic() + SPELL_S
        for href, ticket in listed.items():
            if self._tickets.get(href) != ticket:
                page = self._job_page(href, book)
                if page:
                    self._write(path_of(href), job_page(page))
                self._tickets[href] = ticket
                if self._clock.monotonic() > ends:
                    return False
        return True

    def _linked(self, facts: RoomFacts) -> RoomFacts:
        """Return the facts without links to pages that could not be written, or not yet."""
        hrefs = [job.href for job in facts.held] + [job.href for job in facts.approved]
        absent = {href for href in hrefs if href and not self._is_there(href)}
        if not absent:
            return facts
        return replace(
            facts,
            held=tuple(replace(job, href="") if job.href in absent else job for job in facts.held),
            approved=tuple(
                replace(job, href="") if job.href in absent else job for job in facts.approved
            ),
        )

    def _is_there(self, href: str) -> bool:
        return (self.root / path_of(href)).is_file()

    def _job_page(self, href: str, book: Book) -> JobPage | None:
        """Return what a job's page says; None where its folder moves at this moment, or is odd."""
        for root in (self.site.held, self.site.approved):
            try:
                record = read_record(self._disk, root / folder_of(href) / VERDICT)
                verdicts = record and [*earlier_verdicts(self.site, record.verdict), record.verdict]
            except OSError:
                continue  # such as a link in a verdict's place: `doctor` tells of it
            if verdicts:
                return self._page_of(verdicts, book)
        return None

    def _page_of(self, verdicts: list[Verdict], book: Book) -> JobPage:
        verdict = verdicts[-1]
        workflow = book.library.workflows.get(verdict.workflow)
        return JobPage(
            room=plain(self.site.name),
            workflow=plain(verdict.workflow),
            workflow_href=workflow_href(verdict.workflow),
            report=facts_of(verdict, title=workflow.title if workflow else ""),
            judged=judgements(verdicts),
            courses=courses(verdicts),
        )

    def _write(self, path: PurePosixPath, text: str) -> None:
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        temporary = target.parent / f".{os.getpid()}.new"
        temporary.write_text(text, encoding="utf-8")
        temporary.replace(target)


def _limits(book: Book, workflow: str) -> Iterator[tuple[str, str, str]]:
    try:
        rules = book.library.effective(workflow, "")
    except (BrokenFilesError, UnknownNameError):
        return  # said among the alarms
    for limit in rules.limits:
        yield plain(limit.rule), plain(str(limit), 300), plain(limit.origin, 300)
