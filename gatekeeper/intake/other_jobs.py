"""The films of a job beside those of other jobs: which of them read alike in every digit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from gatekeeper.case import Case, FilmUse, SameReadings, standing
from gatekeeper.filing.tickets import made_at
from gatekeeper.intake.casework import UNKNOWN_USE
from gatekeeper.likeness import FEWEST, digits_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.sheet import Sheet


class AskOtherJobs(Protocol):
    """The question to the history."""

    def __call__(self, digits: str, *, ticket: str, other_than: str) -> FilmUse | None:
        """Return another job's film of the same digits, empty for none, None where nobody knows."""
        ...


def beside_other_jobs(case: Case, ask: AskOtherJobs) -> Case:
    """Return the case with the films of other jobs that read alike, or the note that nobody knows.

    Asked anew for every film that counts, each time: a copied sheet goes on counting when another
    one brings the job back, and what was not known while the history was away may be known by now.
    """
    found: dict[str, SameReadings] = {}
    for digits, ticket in _films(case):
        use = ask(digits, ticket=ticket, other_than=case.job)
        if use is None:
            return replace(case, notes=tuple(dict.fromkeys((*case.notes, UNKNOWN_USE))))
        if use.job:
            same = SameReadings(digits, use.job, _days_between(ticket, use.ticket))
            found[digits] = min(found.get(digits, same), same, key=lambda entry: entry.days)
    return replace(case, same_readings=tuple(found.values()))


def signs_of(sha256: str, sheet: Sheet | None) -> Iterator[str]:
    """Yield all by which a dropped sheet could be found to be another job's: bytes and digits."""
    yield sha256
    for negative in sheet.negatives if sheet else ():
        yield digits_of(negative).sha256


def _films(case: Case) -> Iterator[tuple[str, str]]:
    """Yield the digits and the ticket of each film that counts and can be told from others."""
    for sheet, negative in standing(case.sheets).negatives:
        digits = digits_of(negative)
        if digits.telling >= FEWEST:
            yield digits.sha256, sheet.ticket


def _days_between(ticket: str, other: str) -> float:
    """Return the days between two arrivals; none where a ticket does not say, so that it holds."""
    one, another = made_at(ticket), made_at(other)
    if one is None or another is None:
        return 0.0
    return abs((one - another).total_seconds()) / 86_400.0
