"""How often a negative was measured: the readings that came before the ones that count.

The count is taken from the sheets in the job's own folder, and what a hand removed there still
counts by its name in the verdict: neither the history nor the job's file names are asked.

Two rules decide what is one measurement more:

- **The same file twice in a row is one measurement**: nobody has held the meter to the film in
  between. The same file after another one counts: somebody went back to readings that pleased.
- **A film printed anew is another negative**: that is what a hold asks for. A sheet that does not
  say when its film was printed may be of any film, so it counts for each.

Pure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from gatekeeper.case import JobSheet
    from gatekeeper.sheet import Moment, Negative


@dataclass(frozen=True, slots=True)
class Earlier:
    """One measurement of a separation before the one that counts."""

    sheet: JobSheet
    negative: Negative  # without patches where its readings are not known any more
    is_same_film: bool


def earlier_measurements(
    sheets: Sequence[JobSheet], owner: JobSheet, negative: Negative, zone: tzinfo
) -> tuple[Earlier, ...]:
    """Return the measurements of a separation before the one that counts, oldest first.

    Parameters
    ----------
    sheets : of the job, oldest first
    owner, negative : the sheet and the negative in it that count
    zone : the room's, in which a printing without a time of day is on a date
    """
    by_sheet: list[tuple[JobSheet, list[Earlier]]] = []
    for sheet in sheets:
        before = [
            Earlier(sheet, other, _may_be_one_film(negative, other, zone))
            for other in _before(sheet, owner, negative)
            if fold(other.separation_name) in {fold(negative.separation_name), ""}
        ]
        if before or sheet is owner:
            if by_sheet and _is_same_file(by_sheet[-1][0], sheet):
                by_sheet.pop()
            by_sheet.append((sheet, before))
        if sheet is owner:
            break
    return tuple(entry for _, before in by_sheet for entry in before)


def _before(sheet: JobSheet, owner: JobSheet, negative: Negative) -> tuple[Negative, ...]:
    """Return what a sheet gave; of the owner, what stands above the negative that counts."""
    if sheet is not owner:
        return sheet.was_measured
    return owner.negatives[: [other is negative for other in owner.negatives].index(True)]


def _is_same_file(one: JobSheet, other: JobSheet) -> bool:
    return bool(one.sha256) and one.sha256 == other.sha256


def _may_be_one_film(one: Negative, other: Negative, zone: tzinfo) -> bool:
    if one.printed is None or other.printed is None:
        return True
    return _is_one_moment(one.printed, other.printed, zone)


def _is_one_moment(one: Moment, other: Moment, zone: tzinfo) -> bool:
    if one.has_time and other.has_time:
        return one.instant == other.instant
    return one.instant.astimezone(zone).date() == other.instant.astimezone(zone).date()
