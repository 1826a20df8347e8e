"""Findings and the decision over them.

A finding is one rule's answer. `decide` is the only place in the program that can say approved, and
it does so only when every limit in force has been answered by a passing finding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable


class Outcome(StrEnum):
    """What a check answered. Anything that is not PASS or NOTE holds the job."""

    PASS = "pass"  # noqa: S105 -- an outcome, not a secret
    HOLD = "hold"
    NOT_JUDGED = "not judged"
    NOTE = "note"


class Decision(StrEnum):
    """Where the job goes."""

    APPROVED = "approved"
    HELD = "held"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do at the bench; `order` sorts the steps of several findings into one list."""

    order: int
    says: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule's answer about one negative (or, with an empty separation, about the whole job)."""

    check: str  # the rule family, as its section is called in the YAML
    rule: (
        str  # the limit answered, as `rules show` prints it: solid_density.min, tints.50.tolerance
    )
    outcome: Outcome
    says: str  # one sentence a person at the bench understands
    separation: str = ""
    measured: float | str | None = None
    limit: float | str | None = None
    unit: str = ""
    where: str = ""  # place on the film
    off: float | None = (
        None  # how far the limit is missed, in `unit`; None when it is not or cannot be said
    )
    uncertainty: float | None = None  # expanded (k = 2) of `measured`, in `unit`; None: not known
    probability: float | None = None  # that the true value keeps the limit, 0 to 1; None: not known
    origin: str = ""  # file:line of the limit
    trace: str = ""  # place in the sheet
    do: tuple[Step, ...] = ()


class Requirement(NamedTuple):
    """A limit in force that must be answered by a pass before the job can be approved."""

    rule: str
    separation: str = ""


def unanswered(
    required: Collection[Requirement], findings: Iterable[Finding]
) -> tuple[Requirement, ...]:
    """Return the requirements that no passing finding answers, in the order required."""
    passed = {
        Requirement(finding.rule, finding.separation)
        for finding in findings
        if finding.outcome is Outcome.PASS
    }
    return tuple(requirement for requirement in required if requirement not in passed)


def decide(required: Collection[Requirement], findings: Collection[Finding]) -> Decision:
    """Approve only a job whose every required limit passed and that nothing holds.

    No requirements at all is no proof of anything: such a job is held.
    """
    harmless = {Outcome.PASS, Outcome.NOTE}
    if (
        required
        and not unanswered(required, findings)
        and all(finding.outcome in harmless for finding in findings)
    ):
        return Decision.APPROVED
    return Decision.HELD


@dataclass(frozen=True, slots=True)
class JudgedSheet:
    """A sheet in the job folder, in the order of arrival.

    `current` is false once a newer one replaced it.
    """

    name: str
    sha256: str
    ticket: str
    separations: tuple[str, ...] = ()
    read_as: str = ""
    current: bool = True
    dropped_as: str = ""  # the name it was dropped under, where that is not `name`
    used_for: str = ""  # another job that was judged by the same bytes before


MEASURED = "measured"
READING = "reading "


@dataclass(frozen=True, slots=True)
class JudgedTicket:
    """A job ticket in the job folder; its limits hold while it is `current`."""

    name: str
    sha256: str  # of the bytes that were judged
    dropped_as: str = ""
    current: bool = True  # false once a newer one of its name replaced it


@dataclass(frozen=True, slots=True)
class Status:
    """One line for every report: meter, film and curve, or a reading that came before."""

    subject: str  # "meter", "film lot", "curve", "measured", "reading 2"
    says: str
    separation: str = ""

    @property
    def is_of_a_reading(self) -> bool:
        """Whether it tells of a measurement of this negative, and not of the room."""
        return self.subject == MEASURED or self.subject.startswith(READING)


@dataclass(frozen=True, slots=True)
class Verdict:
    """All findings about a job and the decision, with what is needed to trust and to repeat it."""

    ticket: str
    job: str
    workflow: str
    customer: str
    decision: Decision
    rules_fingerprint: str
    arrived: str  # ISO 8601 with offset: the moment the newest sheet was taken in
    program: str  # "gatekeeper 0.1.0"
    findings: tuple[Finding, ...]
    sheets: tuple[JudgedSheet, ...] = ()
    companions: tuple[str, ...] = ()
    job_tickets: tuple[JudgedTicket, ...] = ()
    status: tuple[Status, ...] = ()
    notes: tuple[str, ...] = ()
    concession: str | None = None
    was: str = ""  # the decision that this one replaces, empty for a first verdict
    rules_text: str = ""  # the rules in force, one limit a line with its origin, or empty
    measurements: int = 1  # how many sheets of this job have been judged, this one included


def concede(verdict: Verdict, words: str) -> Verdict:
    """Approve a verdict under a concession: permission to use what does not conform.

    The findings stay as they are and say what does not conform; `words` say who, when and why. This
    and `decide` are the only ways to approved.
    """
    if not words.strip():
        raise ValueError(words)
    return replace(verdict, decision=Decision.APPROVED, concession=words)
