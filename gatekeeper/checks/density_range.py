"""Density range: what the solid holds back over what clear film holds back by itself.

Why    the plate sees the difference between the two: a dense solid on fogged film gives no more
       contrast than a thin one on clear film.
Keys   density_range: min (density, weakest solid less darkest clear patch).
Source definition; that the worst places decide is common practice.
Pass   min 2.60; solids 2.91 and 2.88, clear patches 0.04 and 0.06: the range is 2.82.
Held   min 2.60; solids 2.91 and 2.88, one clear patch 0.31: the range is 2.57.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from gatekeeper.checks import spots
from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    FRESH_FILM,
    MEASURE_AGAIN,
    MORE_INK,
    REPRINT,
    ZERO_CLEAR,
)
from gatekeeper.checks.doubt import difference_u
from gatekeeper.checks.interface import Subject, answer_reading, answers
from gatekeeper.checks.measured import TURNED
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.sheet import Bound, PatchKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit
    from gatekeeper.verdict import Finding

NAME = "density_range"

_FLAT = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, FRESH_FILM, MORE_INK, REPRINT, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer min."""
    yield from answers(subject, NAME, _ANSWERS)


def _range(subject: Subject, limit: Limit) -> Finding:
    for kind in (PatchKind.SOLID, PatchKind.CLEAR):
        unusable = spots.unread(subject, limit, kind)
        if unusable:
            return unusable
    solids = spots.densities(subject, PatchKind.SOLID)
    clears = spots.densities(subject, PatchKind.CLEAR)
    u = difference_u(subject)
    allowed = Range(lower=limit.number, guard=subject.guard)
    worst = deciding(
        [compare(_over(solid, clear, u), allowed) for solid, clear in product(solids, clears)]
    )
    flat = "the solid holds back too little over what the clear film does"
    says = flat if worst.holds is False else "the negative has range enough"
    return answer_reading(subject, limit, worst, says, do=_FLAT)


def _over(solid: Reading, clear: Reading, u: float | None) -> Reading:
    bounds = {solid.bound, TURNED[clear.bound]} - {Bound.EXACT}
    # Two bounds that pull apart leave the range open: an upper one proves nothing here.
    bound = bounds.pop() if len(bounds) == 1 else Bound.AT_MOST if bounds else Bound.EXACT
    return Reading(solid.value - clear.value, bound, solid.patch, u)


_ANSWERS = {"min": _range}
