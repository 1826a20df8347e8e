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
from gatekeeper.wording import counted, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.case import SameReadings
    from gatekeeper.rules.effective import Limit

FEWEST_TO_NOTE = 4
"""Patches that two negatives of a job must have before it is odd that they are alike."""

_DO = (FIND_FILM, EMPTY_MEMORY, MEASURE_AGAIN)


def other_jobs(subject: Subject, limit: Limit) -> Finding:
    """Answer how near in time another job's film may have read alike."""
    same = subject.same_readings
    if same is None:
        says = "no other job's film read alike in every digit"
        return answer(subject, limit, Outcome.PASS, says, measured="no other job")
    if not _is_telling(subject):
        says = "too few readings to tell a copy from chance"
        return answer(subject, limit, Outcome.PASS, says, measured="too few readings")
    holds = at_least(same.days, limit.number)
    cause = "the sheet was probably copied, or the meter's memory was exported twice"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        _alike(same) if holds else f"{_alike(same)}: {cause}",
        measured=same.days,
        off=limit.number - same.days,
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
    """Note the other negatives of the job that read alike."""
    own = digits_of(subject.negative).sha256
    for other in subject.others:
        enough = len(subject.negative.patches) >= FEWEST_TO_NOTE
        if enough and own and own == digits_of(other.negative).sha256:
            name = quoted(other.negative.separation_name)
            says = f"every reading is that of the separation {name}, to the last digit"
            yield aside(subject, "plausibility.copied", Outcome.NOTE, says, do=(CHECK_SHEET,))


def _is_telling(subject: Subject) -> bool:
    needed = subject.rules.number("plausibility", "same_readings_count", default=FEWEST)
    return at_least(digits_of(subject.negative).telling, needed)


def _alike(same: SameReadings) -> str:
    apart = counted(int(same.days), "day") if same.days >= 1 else "less than a day"
    job = quoted(same.job)
    return f"every reading is that of job {job}, to the last digit, and they came {apart} apart"
