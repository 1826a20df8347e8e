"""Plausibility: readings that cannot be, whatever the film is like.

Why    a wrong zero, a wrong unit or a column typed from the wrong sheet gives numbers that may
       well satisfy every limit and say nothing of this film.
Keys   plausibility: max_below_zero (density, how far below zero a density may lie), max_zero_error
       (density, the clearest patch where the meter was zeroed on clear film), max_density (density,
       what film can have), max_length_factor (times, how far a mark distance may lie from its
       nominal: an inch is 25.4 mm), max_identical_spots (patches, solids that may read alike to the
       last digit), same_readings_days (days, within which no other film, of this job or of another,
       may read alike in every digit), same_readings_count (patches that tell, which it takes before
       that is no chance). All but max_identical_spots are built in, with values that no good
       negative reaches; negatives of a job that read alike where fewer patches tell are noted, and
       so are three solids.
Source common practice; 1 in = 25.4 mm by definition; the chance that two films read alike is
       estimated in `gatekeeper/likeness.py`.
Pass   clear film at -0.02; a solid of 4.6; 600 mm that read 590.6 mm.
Held   clear film at -0.31: the meter was zeroed on a tint; 600 mm that read 23.6 mm: inches; the
       five readings of yesterday's job once more.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks import same_readings, spots
from gatekeeper.checks.advice import (
    CHECK_SHEET,
    CHECK_UNIT,
    MEASURE_AGAIN,
    OTHER_METER,
    READ_ALL,
    ZERO_AIR,
    ZERO_CLEAR,
)
from gatekeeper.checks.compare import at_most
from gatekeeper.checks.interface import Subject, answer, answers, aside, outcome_of
from gatekeeper.checks.marks import Mark, marks_of
from gatekeeper.checks.measured import Zero
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import Finding, Outcome, Step
from gatekeeper.wording import shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "plausibility"

FACTORS = {
    25.4: "inches in one place and millimetres in the other",
    10.0: "centimetres in one place and millimetres in the other",
    1000.0: "metres in one place and millimetres in the other, or a decimal mark too many",
    100.0: "a decimal mark in the wrong place",
}
"""What a distance is likely to be off by, and why."""

NEAR = 0.05
"""A factor counts as one of these where it lies within so much of it: wrap and shrink are less."""

FEWEST_ALIKE = 3
"""Solids that read alike before it is odd."""


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer what readings can be, and note what is odd and may yet be true."""
    yield from answers(subject, NAME, _ANSWERS)
    yield from same_readings.own_job(subject)
    yield from same_readings.by_chance(subject)
    yield from _all_alike(subject)


def _below_zero(subject: Subject, limit: Limit) -> Finding:
    """Answer how far a density may lie below the clearest film, or clear film below air."""
    clear = [spot.value for spot in spots.densities(subject, PatchKind.CLEAR)]
    clearest = min(clear, default=0.0) if subject.measured.zero is Zero.AIR else 0.0
    base = subject.measured.base or 0.0
    depths = [
        Reading(
            -entry.net - base if entry.patch.kind is PatchKind.CLEAR else clearest - entry.net,
            patch=entry.patch,
        )
        for entry in subject.measured.patches
        if entry.net is not None
    ]
    words = _Words(
        "no density lies below zero",
        "a density lies clearly below zero: the meter was zeroed on the wrong patch, "
        "or a sign was typed",
    )
    return _highest(subject, limit, depths, words)


def _zero_error(subject: Subject, limit: Limit) -> Finding:
    """Answer what the clearest patch may read where the meter was zeroed on clear film."""
    clear = spots.densities(subject, PatchKind.CLEAR)
    lowest = min(clear, key=lambda spot: spot.value, default=None)
    read = [lowest] if lowest else []  # over air the clearest patch reads nothing net
    words = _Words(
        "clear film reads about zero",
        "zeroed on clear film, yet no clear patch reads near zero: the densities are not net, "
        "the meter was zeroed on air or on other film",
    )
    return _highest(subject, limit, read, words)


def _above_film(subject: Subject, limit: Limit) -> Finding:
    read = [
        Reading(entry.net, patch=entry.patch)
        for entry in subject.measured.patches
        if entry.net is not None
    ]
    words = _Words(
        "no density is higher than film can have",
        "a density is higher than film can have: a slip of the decimal mark, or of the column",
        (CHECK_SHEET, MEASURE_AGAIN, OTHER_METER),
    )
    return _highest(subject, limit, read, words)


class _Words(NamedTuple):
    right: str
    wrong: str
    do: tuple[Step, ...] = (CHECK_SHEET, ZERO_CLEAR, ZERO_AIR, MEASURE_AGAIN)


def _highest(subject: Subject, limit: Limit, read: list[Reading], words: _Words) -> Finding:
    if not read:
        return _nothing(subject, limit)
    worst = deciding([compare(reading, Range(upper=limit.number)) for reading in read])
    return answer(
        subject,
        limit,
        outcome_of(holds=worst.holds),
        words.right if worst.holds else words.wrong,
        measured=max(worst.reading.value, 0.0),
        where=worst.reading.where,
        off=worst.excess,
        trace=worst.reading.trace,
        do=words.do,
    )


def _unit(subject: Subject, limit: Limit) -> Finding:
    marks = [mark for mark in marks_of(subject.negative) if mark.nominal > 0]
    if not marks:
        return _nothing(subject, limit)
    worst = max(marks, key=_factor)
    holds = at_most(_factor(worst), limit.number)
    says = "the mark distances read about what they should"
    if not holds:
        read = f"{shortest(worst.read.value)} mm"
        says = f"the {worst.name} read {read}: {_likely(_factor(worst))}"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=_factor(worst),
        where=worst.way,
        off=_factor(worst) - limit.number,
        trace=worst.patch.read_at,
        do=(CHECK_UNIT, CHECK_SHEET, MEASURE_AGAIN),
    )


def _factor(mark: Mark) -> float:
    """Return by what a distance is off, as a factor of at least 1."""
    ratio = mark.read.value / mark.nominal
    return max(ratio, 1.0 / ratio) if ratio > 0 else math.inf


def _likely(factor: float) -> str:
    for known, why in FACTORS.items():
        if abs(factor / known - 1.0) <= NEAR:
            return f"likely {why}"
    return "no film grows or shrinks so much, so one of the two is wrong"


def _identical(subject: Subject, limit: Limit) -> Finding:
    solids = [spot.value for spot in spots.densities(subject, PatchKind.SOLID)]
    alike = max(Counter(solids).values(), default=0)
    holds = at_most(alike, limit.number)
    says = "the solid patches differ as readings do"
    if not holds:
        says = f"{alike} solid patches read alike to the last digit: was one reading typed for all?"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=float(alike),
        off=alike - limit.number,
        do=(CHECK_SHEET, READ_ALL, MEASURE_AGAIN),
    )


def _all_alike(subject: Subject) -> Iterator[Finding]:
    solids = [spot.value for spot in spots.densities(subject, PatchKind.SOLID)]
    asked = subject.rules.limit(NAME, "max_identical_spots")
    if asked is None and len(solids) >= FEWEST_ALIKE and len(set(solids)) == 1:
        says = f"all {len(solids)} solid patches read alike to the last digit"
        yield aside(subject, "plausibility.alike", Outcome.NOTE, says)


def _nothing(subject: Subject, limit: Limit) -> Finding:
    says = "the sheet has no such reading"
    return answer(subject, limit, Outcome.PASS, says, measured="no reading")


_ANSWERS = {
    "max_below_zero": _below_zero,
    "max_zero_error": _zero_error,
    "max_density": _above_film,
    "max_length_factor": _unit,
    "max_identical_spots": _identical,
    "same_readings_days": same_readings.other_films,
}
