"""What the history answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from gatekeeper.verdict import Decision, Verdict


@dataclass(frozen=True, slots=True)
class JobLine:
    """One verdict, short enough for a list."""

    site: str
    ticket: str
    job: str
    workflow: str
    customer: str
    decision: Decision
    was: str
    concession: str | None
    reason: str  # what the first finding that holds says; empty when approved
    rules_fingerprint: str
    arrived_at: datetime  # UTC
    filed_at: datetime  # UTC
    printer: str  # of all its negatives, joined with commas when they differ; likewise the next two
    film_lot: str
    meter: str
    program: str
    folder: str
    measurements: int
    newest: bool  # whether it is the last word on its job
    sequence: int  # of its event in the audit chain


@dataclass(frozen=True, slots=True)
class PastVerdict:
    """A verdict as it was given.

    `arrived` is in UTC, whatever the offset that it was written with. The text of the rules is as
    it was when rules of this fingerprint were first in force: places in files may have moved since.
    """

    line: JobLine
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class PastReading:
    """One patch. Densities in ISO 5 log10 units, dot and transmittance in percent, length in mm."""

    kind: str
    nominal: float | None
    density: float | None
    net_density: float | None
    dot_read_percent: float | None  # the meter's own
    dot_percent: float | None  # calculated
    transmittance_percent: float | None
    length_mm: float | None
    bound: str  # "exact", or what the meter said of its range
    where: str
    name: str
    place: str  # in the file


@dataclass(frozen=True, slots=True)
class PastNegative:
    """One film of a sheet: what its head said and what was read on it."""

    sheet: str
    ticket: str  # with which the sheet arrived
    separation: str
    printer: str
    film_lot: str
    meter: str
    measured_at: datetime | None  # UTC
    particulars: Mapping[str, object]  # the whole head, by the attribute's name
    readings: tuple[PastReading, ...]


@dataclass(frozen=True, slots=True)
class MeasuredFilm:
    """One film that was measured, and the verdict that its sheet brought."""

    job: str
    workflow: str
    arrived_at: datetime  # UTC
    decision: Decision
    negative: PastNegative


@dataclass(frozen=True, slots=True)
class Outcome:
    """One verdict as far as it is counted: weeks of them are held in memory at once."""

    home: str  # what all verdicts on one job share
    workflow: str
    decision: Decision
    is_newest: bool  # whether it is the last word on its job
    is_conceded: bool
    printer: str  # of all its negatives, joined with commas when they differ; likewise the next
    film_lot: str
    rules: tuple[str, ...]  # that held the job or could not be judged, once each, in order


@dataclass(frozen=True, slots=True)
class Lately:
    """The verdicts filed since a moment, counted."""

    given: Mapping[tuple[str, str], int]  # by workflow and decision
    held_by: Mapping[str, int]  # verdicts that each rule held, or could not be judged for
    median_s: float | None  # from arrival to filing; None where nothing was filed
    longest_s: float | None


@dataclass(frozen=True, slots=True)
class KnownSheet:
    """Where bytes, or the digits of a film, were used."""

    job: str
    workflow: str
    name: str
    ticket: str


@dataclass(frozen=True, slots=True)
class WorkflowCount:
    """Jobs of one workflow by their newest verdict."""

    workflow: str
    approved: int = 0
    held: int = 0


@dataclass(frozen=True, slots=True)
class Counts:
    """Jobs by their newest verdict."""

    by_workflow: tuple[WorkflowCount, ...]

    @property
    def approved(self) -> int:
        """Jobs that are approved."""
        return sum(count.approved for count in self.by_workflow)

    @property
    def held(self) -> int:
        """Jobs that are held."""
        return sum(count.held for count in self.by_workflow)


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules that were in force: their text as first seen."""

    fingerprint: str
    text: str
    first_seen: datetime  # UTC


@dataclass(frozen=True, slots=True)
class RulesInForce:
    """Rules, and the verdict or the event that shows that they were in force."""

    rules: RuleSet
    job: str  # empty where the gate told that it took them up
    filed_at: datetime  # UTC: of the verdict, or of the event


@dataclass(frozen=True, slots=True)
class Event:
    """One link of the audit chain."""

    sequence: int
    at: str  # UTC, ISO 8601: kept as text because its characters are sealed
    kind: str
    subject: str
    document: str  # JSON
    previous_sha256: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Break:
    """The first place where the audit chain does not hold."""

    sequence: int
    says: str


@dataclass(frozen=True, slots=True)
class ChainReport:
    """What walking the audit chain found."""

    events: int  # sound ones, from the first
    head: str  # SHA-256 of the last sound one
    broken: Break | None = None
