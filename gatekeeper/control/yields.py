"""How many jobs come through, how many at the first try, and what holds the others.

Words    first-pass yield: the share of jobs that were approved by their first complete verdict,
         without a concession. A job that only waited for its other separations has not failed.
         Pareto: reasons by how many jobs they held, the most frequent first, with the share that
         they and all before them make up (J. M. Juran's use of the word; common practice).
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.shares import Share, share
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gatekeeper.history.past import Outcome

WAITING = frozenset({"job.complete"})
"""Rules that hold a job without saying anything against it."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule, the jobs that it held, and the running share of all holds."""

    rule: str
    jobs: int
    running: float  # fraction of all (job, rule) pairs that this reason and those before it make


@dataclass(frozen=True, slots=True)
class Yield:
    """What became of the jobs of a while. Jobs that still wait for separations are in neither."""

    held: Share  # jobs that are held now
    first_pass: Share
    concessions: int  # jobs that are approved under one now
    reasons: tuple[Reason, ...]


def yield_of(outcomes: Iterable[Outcome]) -> Yield:
    """Count verdicts, of each job in the order in which they were given."""
    judged = _complete(outcomes)
    newest = [found[-1] for found in judged]
    held = sum(entry.decision is Decision.HELD for entry in newest)
    first = sum(_passed(found[0]) for found in judged)
    return Yield(
        held=share(held, len(judged)),
        first_pass=share(first, len(judged)),
        concessions=sum(
            entry.decision is Decision.APPROVED and entry.is_conceded for entry in newest
        ),
        reasons=_pareto(judged),
    )


def first_complete(outcomes: Iterable[Outcome]) -> list[Outcome]:
    """Return the first verdict of each job that did not only wait for its other separations."""
    return [found[0] for found in _complete(outcomes)]


def _complete(outcomes: Iterable[Outcome]) -> list[list[Outcome]]:
    jobs: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        jobs.setdefault(outcome.home, []).append(outcome)
    return [found for found in map(_without_waiting, jobs.values()) if found]


def _without_waiting(found: Sequence[Outcome]) -> list[Outcome]:
    """Leave out verdicts that only waited; the first that is left is the first complete one."""
    return [
        entry
        for entry in found
        if entry.decision is Decision.APPROVED or not set(entry.rules) <= WAITING
    ]


def _passed(outcome: Outcome) -> bool:
    return outcome.decision is Decision.APPROVED and not outcome.is_conceded


def _pareto(judged: Iterable[Sequence[Outcome]]) -> tuple[Reason, ...]:
    counts: Counter[str] = Counter()
    for found in judged:
        counts.update({rule for entry in found for rule in entry.rules if rule not in WAITING})
    total, running = counts.total(), 0
    reasons = []
    for rule, jobs in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        running += jobs
        reasons.append(Reason(rule, jobs, running / total))
    return tuple(reasons)
