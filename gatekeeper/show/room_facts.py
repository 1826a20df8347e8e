"""What the board and the page say about the whole room, gathered before anything is laid out.

Everything here is text that has passed `wording.plain`, so whoever lays it out need not think of
it. Nothing depends on the moment of looking: equal states of the room give equal facts, and a
screen that compares them keeps still while nothing happens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.facts import HOLDING, NO_REASON
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.moments import moment
from gatekeeper.show.steps import merged_steps
from gatekeeper.verdict import Decision
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from datetime import datetime, tzinfo

    from gatekeeper.history.past import JobLine
    from gatekeeper.verdict import Verdict

INCOMPLETE = "job.complete"
"""The rule that holds a job while separations of it are missing."""

CALL_LEAD = "Call the plate-room lead."


@dataclass(frozen=True, slots=True)
class HeldJob:
    """A job that must not be plated, why, and what to do first."""

    job: str
    workflow: str
    customer: str
    since: str
    why: str  # the first reason
    further: int  # how many more reasons there are
    do: str  # the first step
    caution: str  # of that step
    was_approved: bool  # a plate may have been made from it
    awaits: bool  # nothing is wrong with it, but not all of its negatives have been measured
    ticket: str  # changes when it is held again
    href: str = ""  # of its page, from the folder of pages; empty where it has none


@dataclass(frozen=True, slots=True)
class ApprovedJob:
    """A job that may be plated."""

    job: str
    workflow: str
    customer: str
    at: str
    concession: str  # why it may be used although it does not conform; usually empty
    ticket: str
    href: str = ""


@dataclass(frozen=True, slots=True)
class Waits:
    """Something in a drop folder that is not judged yet, and for what it waits."""

    name: str
    folder: str
    reason: str
    files: int = 1  # that wait there for the same; the name is that of the first

    @property
    def names(self) -> str:
        """The name, and how many others are meant."""
        return f"{self.name} and {self.files - 1} more" if self.files > 1 else self.name


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something is wrong with the room, and what mends it."""

    says: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """A day after which a meter, curve or film lot must not be used as it is."""

    subject: str  # "meter T-04"
    says: str  # "calibration"
    day: str
    is_over: bool
    workflows: tuple[str, ...] = ()  # whose rules set the day
    do: str = ""


@dataclass(frozen=True, slots=True)
class WorkflowFacts:
    """A workflow and how many jobs stand where."""

    name: str
    title: str
    approved: int
    held: int
    href: str = ""


@dataclass(frozen=True, slots=True)
class RoomFacts:
    """Everything that board and page say about the room."""

    room: str
    is_at_work: bool
    alarms: tuple[Alarm, ...] = ()
    held: tuple[HeldJob, ...] = ()
    held_in_all: int = 0
    waits: tuple[Waits, ...] = ()
    waits_beyond: int = 0  # how many more files wait than the list tells of
    approved: tuple[ApprovedJob, ...] = ()
    approved_in_all: int | None = 0  # None: the history is away, so nobody counted
    dues: tuple[Due, ...] = ()
    news: tuple[str, ...] = ()  # what the charts say that somebody should act on
    workflows: tuple[WorkflowFacts, ...] = ()
    rooms_href: str = ""  # of the page of all rooms that share the history; empty without one

    @property
    def stopped(self) -> tuple[HeldJob, ...]:
        """Held jobs that somebody must see to, the newest first."""
        return tuple(job for job in self.held if not job.awaits)

    @property
    def incomplete(self) -> tuple[HeldJob, ...]:
        """Held jobs that only wait for their other separations."""
        return tuple(job for job in self.held if job.awaits)

    @property
    def stopped_in_all(self) -> int:
        """Jobs that somebody must see to, those beyond the list too."""
        return self.held_in_all - len(self.incomplete)

    @property
    def waiting_in_all(self) -> int:
        """What waits: files in drop folders, and held jobs whose other separations are missing."""
        return sum(entry.files for entry in self.waits) + self.waits_beyond + len(self.incomplete)


def held_job(verdict: Verdict, filed_at: datetime, zone: tzinfo, href: str = "") -> HeldJob:
    """Return what is said of a held job."""
    holding = [finding for finding in verdict.findings if finding.outcome in HOLDING]
    steps = merged_steps(verdict.findings, holding)
    return HeldJob(
        job=plain(verdict.job),
        workflow=plain(verdict.workflow),
        customer=plain(verdict.customer),
        since=moment(filed_at, zone),
        why=plain(holding[0].says, LONGEST) if holding else NO_REASON,
        further=max(len(holding) - 1, 0),
        do=steps[0].says if steps else CALL_LEAD,
        caution=steps[0].caution if steps else "",
        was_approved=verdict.was == Decision.APPROVED,
        awaits=bool(holding) and all(finding.rule == INCOMPLETE for finding in holding),
        ticket=plain(verdict.ticket),
        href=href,
    )


def held_line(line: JobLine, zone: tzinfo) -> HeldJob:
    """Return what the history says of a held job whose own folder cannot be read."""
    return HeldJob(
        job=plain(line.job),
        workflow=plain(line.workflow),
        customer=plain(line.customer),
        since=moment(line.filed_at, zone),
        why=plain(line.reason, LONGEST) or NO_REASON,
        further=0,
        do=f"Look for its folder {plain(line.folder, LONGEST)}: it cannot be read.",
        caution="",
        was_approved=line.was == Decision.APPROVED,
        awaits=False,
        ticket=plain(line.ticket),
    )


def approved_job(line: JobLine, zone: tzinfo, href: str = "") -> ApprovedJob:
    """Return what is said of an approved job."""
    return ApprovedJob(
        job=plain(line.job),
        workflow=plain(line.workflow),
        customer=plain(line.customer),
        at=moment(line.filed_at, zone),
        concession=plain(line.concession or "", LONGEST),
        ticket=plain(line.ticket),
        href=href,
    )
