"""Films that read alike in every digit: those of another job, and those of the job itself.

Why    two films differ in some digit of their readings, even of one job on one film lot. Where none
       does, a sheet was copied, or the meter's memory was exported twice, and one of the two films
       has never been measured.
Chance what may agree all the same is estimated in `gatekeeper/likeness.py`: a film with few
       readings that tell it from others is not held over them, and a note says what was found.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CHECK_SHEET, EMPTY_MEMORY, FIND_FILM, MEASURE_AGAIN
from gatekeeper.checks.compare import at_least
from gatekeeper.checks.interface import Subject, answer, aside, outcome_of
from gatekeeper.likeness import FEWEST, digits_of
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import counted, listing, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.case import SameReadings
    from gatekeeper.rules.effective import Limit

FEWEST_TO_NOTE = 4
"""Patches that two negatives of a job must have before it is odd that they are alike."""

_DO = (FIND_FILM, EMPTY_MEMORY, MEASURE_AGAIN)


def other_films(subject: Subject, limit: Limit) -> Finding:
    """Answer how near in time another film may have read alike: one of this job came at once."""
    twins = _twins(subject)
    same = subject.same_readings
    if not twins and same is None:
        says = "no other film read alike in every digit"
        return answer(subject, limit, Outcome.PASS, says, measured="no other film")
    if not _is_telling(subject):
        says = "too few readings to tell a copy from chance"
        return answer(subject, limit, Outcome.PASS, says, measured="too few readings")
    days, alike = 0.0, _alike_in_job(twins)
    if same and not twins:
        days, alike = same.days, _alike(same)
    holds = at_least(days, limit.number)
    cause = "the sheet was probably copied, or the meter's memory was exported twice"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        alike if holds else f"{alike}: {cause}",
        measured=days,
        off=limit.number - days,
        do=_DO,
    )


def by_chance(subject: Subject) -> Iterator[Finding]:
    """Note another job's film that read alike in the few readings there are."""
    same = subject.same_readings
    if same is None or _is_telling(subject):
        return
    says = f"{_alike(same)}; so few may agree by chance"
    yield aside(subject, "plausibility.same_readings", Outcome.NOTE, says, do=_DO)


def own_job(subject: Subject) -> Iterator[Finding]:
    """Note the other negatives of the job that read alike in the few readings there are."""
    twins = _twins(subject)
    if twins and len(subject.negative.patches) >= FEWEST_TO_NOTE and not _is_telling(subject):
        says = _alike_in_job(twins)
        yield aside(subject, "plausibility.copied", Outcome.NOTE, says, do=(CHECK_SHEET,))


def _twins(subject: Subject) -> list[str]:
    """Return the job's other separations that read alike in every digit."""
    own = digits_of(subject.negative).sha256
    others = [other.negative for other in subject.others]
    return [other.separation_name for other in others if own and own == digits_of(other).sha256]


def _is_telling(subject: Subject) -> bool:
    needed = subject.rules.number("plausibility", "same_readings_count", default=FEWEST)
    return at_least(digits_of(subject.negative).telling, needed)


def _alike_in_job(twins: list[str]) -> str:
    names = listing(map(quoted, twins))
    return f"every reading is that of the separation {names}, to the last digit"


def _alike(same: SameReadings) -> str:
    apart = counted(int(same.days), "day") if same.days >= 1 else "less than a day"
    job = quoted(same.job)
    return f"every reading is that of job {job}, to the last digit, and they came {apart} apart"
