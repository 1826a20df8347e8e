"""A job as it is judged: its sheets in the order they came, and which of their negatives count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime, tzinfo

    from gatekeeper.sheet import Negative, Problem, Sheet


@dataclass(frozen=True, slots=True)
class JobSheet:
    """One sheet of the job: read, or with the reason why it could not be."""

    name: str
    sha256: str
    ticket: str
    sheet: Sheet | None
    unreadable: Problem | None = None
    dropped_as: str = ""  # the name it was dropped under; in the job folder it may carry a number
    replaced: bool = False  # an earlier verdict found that newer sheets stand in its place
    separations: tuple[str, ...] = ()  # what a replaced sheet held, for the record
    read_as: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """All that a verdict rests on besides rules and register. Equal cases give equal verdicts."""

    ticket: str
    job: str
    workflow: str  # of the drop folder; empty for a sheet dropped beside the workflows' folders
    sheets: tuple[JobSheet, ...]  # oldest first, at least one
    arrived: datetime
    time_zone: tzinfo
    companions: tuple[str, ...] = ()
    was: str = ""  # the decision before this one
    used_for: str = ""  # another job under which the same bytes were judged before
    notes: tuple[str, ...] = ()

    @property
    def newest(self) -> JobSheet:
        """The sheet that brought the job here."""
        return self.sheets[-1]


@dataclass(frozen=True, slots=True)
class Standing:
    """What counts now: the newest negative of each separation, and newer sheets that could not be read."""

    negatives: tuple[tuple[JobSheet, Negative], ...]
    unreadable: tuple[JobSheet, ...]

    def counts(self, sheet: JobSheet) -> bool:
        """Whether anything of this sheet still counts."""
        return any(owner is sheet for owner, _ in self.negatives) or sheet in self.unreadable


def fold(name: str) -> str:
    """Return the form in which separations are compared."""
    return " ".join(name.casefold().split())


def standing(sheets: tuple[JobSheet, ...]) -> Standing:
    """Return what counts: a newer negative replaces the older one of its separation.

    A negative without a separation's name is replaced by any newer one: a sheet is often dropped again just to add
    the name. An unreadable sheet stands until a sheet of the same file name can be read, or every separation that the
    job had before it has been measured anew, because nobody knows which one it was.
    """
    newest: dict[str, tuple[int, JobSheet, Negative]] = {}
    for index, sheet in enumerate(sheets):
        for negative in sheet.sheet.negatives if sheet.sheet else ():
            older = newest.get("")
            if older and older[0] != index:
                del newest[""]
            newest[fold(negative.separation_name)] = (index, sheet, negative)
    unreadable = tuple(
        sheet
        for index, sheet in enumerate(sheets)
        if sheet.sheet is None and not sheet.replaced and not _replaced(index, sheets, newest)
    )
    return Standing(
        tuple((sheet, negative) for _, sheet, negative in newest.values()),
        unreadable,
    )


def _replaced(
    index: int,
    sheets: tuple[JobSheet, ...],
    newest: dict[str, tuple[int, JobSheet, Negative]],
) -> bool:
    later = sheets[index + 1 :]
    dropped_as = sheets[index].dropped_as
    if any(sheet.dropped_as == dropped_as and sheet.sheet for sheet in later):
        return True
    return bool(newest) and all(position > index for position, _, _ in newest.values())
