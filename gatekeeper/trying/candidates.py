"""What a limit would have done to the past, over a table of candidate values.

Units    a limit's own; shares are fractions, 0 to 1, with score intervals.
Jobs     one number a job, the worst of its negatives: the lowest for a limit from below, the
         highest for one from above, for a tint the largest difference from its nominal.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.shares import Share, share
from gatekeeper.rules.compile import field_of
from gatekeeper.rules.edits import SLACK, is_from_below

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gatekeeper.history.replay import PastAnswer

SHARES = (0.0, 0.005, 0.01, 0.02, 0.05, 0.10, 0.20)
"""Shares of jobs for which the table names a limit."""

_STEPS = {"density": 2, "percent": 1, "lpi": 1, "mm": 2, "stops": 1}
"""By unit, the decimals that somebody would write; whole numbers for all others."""

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One value of a limit and the jobs that it would have held."""

    limit: float
    held: Share


@dataclass(frozen=True, slots=True)
class Candidates:
    """The table of one limit."""

    rule: str
    unit: str
    worst: float  # of all jobs, and
    best: float  # in the limit's own sense: both may be limits, or distances for a tint
    rows: tuple[Candidate, ...]


def candidates(
    path: Path, answers: Iterable[PastAnswer], shares: Sequence[float] = SHARES
) -> Candidates | None:
    """Return the strictest limit that holds at most each share of the jobs, None without readings.

    Limits are rounded to what one would write, on the side that holds fewer; the share beside each
    is counted at the rounded one.
    """
    numbers = _worst_of_each(path, answers)
    if not numbers:
        return None
    unit = field_of(path)[0]
    from_below = is_from_below(path)
    ordered = sorted(numbers, reverse=not from_below)  # the first ones are held first
    limits: dict[float, Candidate] = {}
    for part in sorted(shares):
        index = min(math.floor(part * len(ordered) + SLACK), len(ordered) - 1)
        limit = _written(ordered[index], unit, from_below=from_below)
        held = sum(not _keeps(number, limit, from_below=from_below) for number in numbers)
        limits[limit] = Candidate(limit, share(held, len(numbers)))
    return Candidates(".".join(path), unit, ordered[0], ordered[-1], tuple(limits.values()))


def _worst_of_each(path: Path, answers: Iterable[PastAnswer]) -> list[float]:
    from_below = is_from_below(path)
    worst: dict[int, float] = {}
    for answer in answers:
        if answer.measured is None:
            continue
        number = abs(answer.measured - float(path[1])) if path[0] == "tints" else answer.measured
        known = worst.get(answer.verdict, number)
        worst[answer.verdict] = min(known, number) if from_below else max(known, number)
    return list(worst.values())


def _keeps(number: float, limit: float, *, from_below: bool) -> bool:
    return number >= limit - SLACK if from_below else number <= limit + SLACK


def _written(number: float, unit: str, *, from_below: bool) -> float:
    """Return the number as one would write it, rounded to the side that holds fewer jobs."""
    decimals = _STEPS.get(unit, 0)
    scaled = number * 10**decimals
    whole = math.floor(scaled + SLACK) if from_below else math.ceil(scaled - SLACK)
    return float(whole / 10**decimals)
