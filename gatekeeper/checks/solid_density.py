"""Solid density: the image area must block the lamp's light everywhere on the film.

Why    light that leaks through a weak solid hardens the floor of the plate: reliefs fill in, fine
       reverses close. The weakest spot decides, not the average, because the plate is made under
       that spot too.
Keys   solid_density: min, max (net density), spots (patches that must be read), spread (density,
       highest less lowest), slope_max (density, change of a straight line across the film from
       left to right) and slope_significance_percent, which tells a slope from scatter.
Source common practice: 2.7 net makes a plate from ink film, silver film wants 4.0.
Pass   min 2.70; spots 2.91, 2.88, 2.90: the lowest, 2.88, is 0.18 above.
Held   min 2.70; spots 2.91, 2.695, 2.90: the lowest is 0.005 too thin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks import spots
from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    CLEAN,
    CLEAN_HEAD,
    MEASURE_AGAIN,
    MORE_INK,
    READ_ALL,
    REPRINT,
    ZERO_CLEAR,
)
from gatekeeper.checks.doubt import difference_u
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.checks.slope import judge_slope
from gatekeeper.measures.film import spread
from gatekeeper.sheet import Bound, PatchKind
from gatekeeper.verdict import Finding, Outcome, Step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "solid_density"

_WEAK = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, MORE_INK, REPRINT, CALL_LEAD)
_DENSE = (CHECK_SHEET, ZERO_CLEAR, MEASURE_AGAIN, REPRINT, CALL_LEAD)
_UNEVEN = (CLEAN, MEASURE_AGAIN, CLEAN_HEAD, REPRINT, CALL_LEAD)

_SAYS = {
    ("min", True): "the weakest solid is dense enough",
    ("min", False): "the solid is too thin: light gets through it",
    ("max", True): "the densest solid is within the limit",
    ("max", False): "the solid is denser than the limit",
}


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer min, max, spots, spread and slope."""
    yield from answers(subject, NAME, _ANSWERS)


def _count(subject: Subject, limit: Limit) -> Finding:
    return spots.count(subject, limit, PatchKind.SOLID)


def _weakest(subject: Subject, limit: Limit) -> Finding:
    return _worst(subject, limit, Range(lower=limit.number, guard=subject.guard), _WEAK)


def _densest(subject: Subject, limit: Limit) -> Finding:
    return _worst(subject, limit, Range(upper=limit.number, guard=subject.guard), _DENSE)


def _worst(subject: Subject, limit: Limit, allowed: Range, do: tuple[Step, ...]) -> Finding:
    unusable = spots.unread(subject, limit, PatchKind.SOLID)
    if unusable:
        return unusable
    read = spots.densities(subject, PatchKind.SOLID)
    worst = deciding([compare(reading, allowed) for reading in read])
    says = _SAYS[limit.path[-1], worst.holds is not False]
    return answer_reading(subject, limit, worst, says, do=do)


def _spread(subject: Subject, limit: Limit) -> Finding:
    unusable = spots.unread(subject, limit, PatchKind.SOLID)
    if unusable:
        return unusable
    read = spots.densities(subject, PatchKind.SOLID)
    if len(read) < 2 or any(reading.bound is not Bound.EXACT for reading in read):  # noqa: PLR2004 -- two make a difference
        says = "a spread needs at least two solid patches with full readings"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    weakest = min(read, key=lambda reading: reading.value)
    difference = spread([reading.value for reading in read])
    over_film = compare(
        Reading(difference, patch=weakest.patch, u=difference_u(subject)),
        Range(upper=limit.number, guard=subject.guard),
    )
    even = "uneven" if over_film.holds is False else "even"
    where = f"weakest {weakest.where}" if weakest.where else ""
    says = f"the solid is {even} over the film"
    return answer_reading(subject, limit, over_film, says, where=where, do=_UNEVEN)


def _slope(subject: Subject, limit: Limit) -> Finding:
    unusable = spots.unread(subject, limit, PatchKind.SOLID)
    return unusable or judge_slope(subject, limit, spots.densities(subject, PatchKind.SOLID))


_ANSWERS = {
    "spots": _count,
    "min": _weakest,
    "max": _densest,
    "spread": _spread,
    "slope_max": _slope,
}
