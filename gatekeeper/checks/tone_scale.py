"""Tone scale: the tints must rise, and the printer must be able to print the smallest of them.

Why    tones that read alike or fall back cannot be parted again by any curve; and a tint smaller
       than one printer dot in a cell is not a tint but chance.
Keys   tone_scale: min_rise (percent of dot that each tint must read above the one before),
       min_cell_dots (printer dots in a cell of the smallest tint, or in the hole of the largest).
Source common practice; the dots of a cell are (dpi / lpi) squared, ISO 12647-9:2021, 4.2.2 (read in
       a transcription).
Pass   min_rise 0.5; tints 25, 50 and 75 % read 27.0, 51.0 and 76.5 %.
Held   tints 25 and 50 % read 51.0 and 27.0 %: two patches changed places.
"""

from __future__ import annotations

from itertools import pairwise
from statistics import fmean
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    FILL_IN,
    MEASURE_AGAIN,
    READ_ALL,
    SCREEN,
    WEDGE,
    ZERO_CLEAR,
)
from gatekeeper.checks.compare import at_least
from gatekeeper.checks.dots import dots_of
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers, outcome_of
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.screen import smallest_dot_percent
from gatekeeper.measures.uncertainty import combined_uncertainty
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Patch

NAME = "tone_scale"

FULL = 100.0

_FALLS = (CHECK_SHEET, ZERO_CLEAR, MEASURE_AGAIN, WEDGE, CALL_LEAD)
_TOO_SMALL = (CHECK_SHEET, SCREEN, CALL_LEAD)


class Step(NamedTuple):
    """All patches of one nominal, averaged."""

    nominal: float
    dot: float
    u: float | None
    patch: Patch


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer min_rise and min_cell_dots."""
    yield from answers(subject, NAME, _ANSWERS)


def _rise(subject: Subject, limit: Limit) -> Finding:
    steps, reason = _steps(subject)
    if reason:
        do = (FILL_IN, ZERO_CLEAR, MEASURE_AGAIN)
        return answer(subject, limit, Outcome.NOT_JUDGED, reason, do=do)
    if len(steps) < 2:  # noqa: PLR2004 -- two make a rise
        says = "a rise needs at least two tints"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    allowed = Range(lower=limit.number, guard=subject.guard)
    worst = deciding([compare(_between(*pair), allowed) for pair in pairwise(steps)])
    rises = "each tint reads above the one before"
    says = f"{worst.reading.how}: no curve can part them" if worst.holds is False else rises
    return answer_reading(subject, limit, worst, says, do=_FALLS)


def _steps(subject: Subject) -> tuple[list[Step], str]:
    """Return the tints by rising nominal, or why one of them has no dot."""
    found: dict[float, list[Reading]] = {}
    for entry in subject.measured.patches:
        if entry.patch.kind is not PatchKind.TINT or entry.patch.nominal is None:
            continue
        dots, reason = dots_of(subject, entry)
        if reason:
            return [], f"the {shortest(entry.patch.nominal.value)} % tint: {reason}"
        found.setdefault(entry.patch.nominal.value, []).extend(dots)
    return [_averaged(nominal, found[nominal]) for nominal in sorted(found)], ""


def _averaged(nominal: float, dots: list[Reading]) -> Step:
    known = [dot.u for dot in dots if dot.u is not None]
    patch = next(dot.patch for dot in dots if dot.patch)
    return Step(nominal, fmean(dot.value for dot in dots), max(known, default=None), patch)


def _between(lower: Step, upper: Step) -> Reading:
    rise = upper.dot - lower.dot
    u = None
    if lower.u is not None and upper.u is not None:
        u = combined_uncertainty([lower.u, upper.u])
    names = f"{shortest(upper.nominal)} % tint", f"{shortest(lower.nominal)} %"
    how = f"the {names[0]} reads {upper.dot:.1f} %, the {names[1]} tint {lower.dot:.1f} %"
    return Reading(rise, patch=upper.patch, u=u, how=how)


def _cell_dots(subject: Subject, limit: Limit) -> Finding:
    ruling, resolution = subject.negative.ruling_lpi, subject.negative.resolution_dpi
    if ruling is None or resolution is None:
        says = "the dots of a cell need both ruling and resolution on the sheet"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN,))
    tints = [
        (min(patch.nominal.value, FULL - patch.nominal.value), patch)
        for patch in subject.negative.patches_of(PatchKind.TINT)
        if patch.nominal and 0.0 < patch.nominal.value < FULL
    ]
    if not tints:
        says = "the sheet has no tint"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    try:
        one_dot = float(smallest_dot_percent(resolution.value, ruling.value))
    except MeasureError:
        says = "the ruling is not below the resolution: one of the two is wrong"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, trace=ruling.trace, do=_TOO_SMALL)
    part, patch = min(tints, key=lambda tint: tint[0])
    dots = part / one_dot
    nominal = shortest(patch.nominal.value) if patch.nominal else ""
    return answer(
        subject,
        limit,
        outcome_of(holds=at_least(dots, limit.number)),
        f"the {nominal} % tint is {dots:.3g} printer dots a cell; one dot is {one_dot:.2g} %",
        measured=dots,
        off=limit.number - dots,
        trace=patch.read_at,
        do=_TOO_SMALL,
    )


_ANSWERS = {"min_rise": _rise, "min_cell_dots": _cell_dots}
