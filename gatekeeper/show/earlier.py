"""How a job was judged before: each verdict in a line, and how the readings that held it moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.facts import HOLDING, one_line
from gatekeeper.show.limits import figures_of
from gatekeeper.verdict import Decision
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.verdict import Finding, Verdict


@dataclass(frozen=True, slots=True)
class Judgement:
    """One verdict of the past."""

    number: int
    arrived: str
    decision: str
    why: str


@dataclass(frozen=True, slots=True)
class Course:
    """What one limit was answered with, verdict by verdict."""

    limit: str  # "solid_density.min, black"
    asked: str  # by the newest verdict that knows the limit
    readings: tuple[str, ...]  # one a verdict; "-" where the limit was not answered


def judgements(verdicts: Sequence[Verdict]) -> tuple[Judgement, ...]:
    """Return every verdict in a line; verdicts come oldest first."""
    return tuple(
        Judgement(
            number=number,
            arrived=plain(verdict.arrived)[:16].replace("T", " "),
            decision="HELD" if verdict.decision is Decision.HELD else "approved",
            why=one_line(verdict),
        )
        for number, verdict in enumerate(verdicts, start=1)
    )


def courses(verdicts: Sequence[Verdict]) -> tuple[Course, ...]:
    """Return the readings of every limit that ever held this job, oldest verdict first."""
    answers = [dict(_answers(verdict)) for verdict in verdicts]
    ever_held = dict.fromkeys(
        key
        for known in answers
        for key, finding in known.items()
        if finding.outcome in HOLDING and finding.measured is not None
    )
    return tuple(_course(key, [known.get(key) for known in answers]) for key in ever_held)


def _answers(verdict: Verdict) -> Iterator[tuple[tuple[str, str], Finding]]:
    """Yield each limit with the finding that answers it; of several the one that holds."""
    by_gravity = sorted(verdict.findings, key=lambda finding: finding.outcome in HOLDING)
    for finding in by_gravity:
        yield (finding.rule, finding.separation), finding


def _course(key: tuple[str, str], answers: Sequence[Finding | None]) -> Course:
    figures = [figures_of(finding) if finding else None for finding in answers]
    asked = [entry.asked for entry in figures if entry]
    return Course(
        limit=", ".join(plain(part) for part in key if part),
        asked=asked[-1],
        readings=tuple((entry.measured if entry else "") or "-" for entry in figures),
    )
