"""Size: the distances between marks must be what the plate needs, on every separation alike.

Why    a film that is a millimetre short makes a plate that never comes into register, and nothing
       on press can mend it.
Keys   size: limits tolerance_mm with tolerance_per_mille of the length on top, min_around and
       min_across (distances that must be read), register_mm (difference between the separations of
       a job); settings plate_thickness_mm, plate_base_mm, repeat_mm and shrink_percent for rooms
       whose sheets do not give them (where both do, they must agree), reference_temperature_c and
       reference_humidity_percent with growth_ppm_per_c and growth_ppm_per_percent_rh from the
       film's data sheet, uncertainty_mm (expanded, k = 2, of one distance read).
       A distance is judged as it stands where neither sheet nor rules know of plate or shrink.
Source plate wrap: common practice; growth: definition of the coefficients, ISO 18903:2011.
Pass   tolerance_mm 0.2; 600 mm around on a plate of 1.70 mm, base 0.18 mm, on a repeat of 609.6 mm:
       590.60 mm expected, 590.72 mm read.
Held   the same read as 599.98 mm: the film was made without the plate's wrap.
"""

from __future__ import annotations

from dataclasses import replace
from statistics import fmean
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    FILL_IN,
    MEASURE_AGAIN,
    READ_MARKS,
    REPRINT,
    REST_FILM,
    SCALE,
)
from gatekeeper.checks.compare import at_least
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers, outcome_of
from gatekeeper.checks.marks import ACROSS, AROUND, Mark, UnknownSizeError, expected, marks_of
from gatekeeper.checks.reading import COVERAGE, Compared, Range, Reading, compare, deciding
from gatekeeper.measures.distortion import length_tolerance
from gatekeeper.measures.uncertainty import combined_uncertainty
from gatekeeper.sheet import Bound
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Negative

NAME = "size"

_OFF = (CHECK_SHEET, REST_FILM, READ_MARKS, MEASURE_AGAIN, SCALE, REPRINT, CALL_LEAD)


class _Judged(NamedTuple):
    compared: Compared
    tolerance_mm: float
    says: str
    mark: Mark


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer tolerance, number of marks and register."""
    yield from answers(subject, NAME, _ANSWERS)


def _tolerance(subject: Subject, limit: Limit) -> Finding:
    marks = marks_of(subject.negative)
    if not marks:
        says = "the sheet has no distance between marks"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_MARKS, MEASURE_AGAIN))
    judged: list[_Judged] = []
    for mark in marks:
        try:
            judged.append(_distance(subject, limit, mark))
        except UnknownSizeError as error:
            says = f"nobody knows what the {mark.name} should read: {error}"
            trace = mark.patch.read_at
            do = (FILL_IN, CHECK_SHEET)
            return answer(subject, limit, Outcome.NOT_JUDGED, says, trace=trace, do=do)
    worst = deciding([each.compared for each in judged])
    found = next(each for each in judged if each.compared is worst)
    return replace(
        answer_reading(subject, limit, worst, found.says, where=found.mark.way, do=_OFF),
        measured=abs(worst.reading.value),
        limit=max(found.tolerance_mm - worst.band, 0.0),
    )


def _distance(subject: Subject, limit: Limit, mark: Mark) -> _Judged:
    should = expected(subject, mark)
    error = mark.read.value - should.length_mm
    tolerance = float(
        length_tolerance(
            should.length_mm,
            fixed_mm=limit.number,
            per_mille=subject.rules.number(NAME, "tolerance_per_mille", default=0.0),
        )
    )
    reading = Reading(error, mark.read.bound, mark.patch, length_u(subject))
    compared = compare(reading, Range(-tolerance, tolerance, subject.guard))
    way = "longer" if error > 0 else "shorter"
    how = f" ({'; '.join(should.how)})" if should.how else ""
    says = (
        f"the {mark.name} read {mark.read.value:.2f} mm, "
        f"{abs(error):.2f} mm {way} than the {should.length_mm:.2f} mm expected{how}"
    )
    return _Judged(compared, tolerance, says, mark)


def length_u(subject: Subject) -> float | None:
    """Return the standard uncertainty of a distance in mm, None where the rules do not say."""
    stated = subject.rules.limit(NAME, "uncertainty_mm")
    return stated.number / COVERAGE if stated else None


def _count(subject: Subject, limit: Limit) -> Finding:
    way = {"min_around": AROUND, "min_across": ACROSS}[limit.path[-1]]
    read = sum(mark.way == way for mark in marks_of(subject.negative))
    says = f"{counted(read, 'distance')} {way} the cylinder read, {limit.number:g} asked for"
    return answer(
        subject,
        limit,
        outcome_of(holds=at_least(read, limit.number)),
        says,
        measured=float(read),
        off=limit.number - read,
        do=(READ_MARKS, MEASURE_AGAIN),
    )


def _register(subject: Subject, limit: Limit) -> Finding:
    """Answer how far the other negatives of the job differ from this one."""
    if not subject.others:
        says = "the only negative of the job: there is none to register with"
        return answer(subject, limit, Outcome.PASS, says, measured="one negative")
    own = _by_mark(subject.negative)
    others = [measured.negative for measured in subject.others]
    if not own or any(_by_mark(other).keys() != own.keys() for other in others):
        says = "the negatives of this job do not have the same distances to compare, fully read"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_MARKS, MEASURE_AGAIN))
    u = length_u(subject)
    pairs = [
        Reading(
            apart,
            u=None if u is None else combined_uncertainty([u, u]),
            how=f"{other.separation_name or 'another negative'}: the {_called(key)} differs by "
            f"{apart:.2f} mm",
        )
        for other in others
        for key in own
        for apart in (abs(own[key] - _by_mark(other)[key]),)
    ]
    allowed = Range(upper=limit.number, guard=subject.guard)
    worst = deciding([compare(pair, allowed) for pair in pairs])
    differs = f"this separation does not register with {worst.reading.how}"
    says = differs if worst.holds is False else "the separations of this job have one size"
    return answer_reading(subject, limit, worst, says, do=_OFF)


def _by_mark(negative: Negative) -> dict[tuple[float, str], float]:
    """Return the mean reading of each distance by nominal and way; bounds are no readings."""
    found: dict[tuple[float, str], list[float]] = {}
    for mark in marks_of(negative):
        if mark.read.bound is Bound.EXACT:
            found.setdefault((mark.nominal, mark.way), []).append(mark.read.value)
    return {key: fmean(values) for key, values in found.items()}


def _called(key: tuple[float, str]) -> str:
    return f"{key[0]:g} mm {key[1]}".rstrip()


_ANSWERS = {
    "tolerance_mm": _tolerance,
    "min_around": _count,
    "min_across": _count,
    "register_mm": _register,
}
