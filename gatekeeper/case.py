"""A job as it is judged: its sheets in the order they came, and which of their negatives count."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.sheet import Negative, SheetKind, Text
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime, tzinfo

    from gatekeeper.sheet import Problem, Sheet
    from gatekeeper.signals import Signals
    from gatekeeper.yamlfiles.load import Content


READ_AS_SLIP = "slip"
"""What a lead's slip is read as: it lies among the sheets of its job and measures nothing."""


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
    used_for: str = ""  # another job under which the same bytes were judged before
    before: Sheet | None = None  # what a replaced sheet held: told and counted, never judged

    @property
    def negatives(self) -> tuple[Negative, ...]:
        """The negatives on which a plate may rest: those of a sheet that was meant for them."""
        if self.sheet is None or self.sheet.kind is not SheetKind.NEGATIVE:
            return ()
        return self.sheet.negatives

    @property
    def was_measured(self) -> tuple[Negative, ...]:
        """All that the sheet ever gave of negatives, whether it counts or was replaced.

        Where the readings are not known any more, each separation stands there without them.
        """
        known = self.before or self.sheet
        if known is None:
            return tuple(
                Negative(separation=Text(name) if name else None) for name in self.separations
            )
        return known.negatives if known.kind is SheetKind.NEGATIVE else ()

    @property
    def own_name(self) -> str:
        """The name under which a corrected sheet would be dropped again."""
        return self.dropped_as or self.name


@dataclass(frozen=True, slots=True)
class JobTicket:
    """A job ticket that was dropped beside a sheet: limits for this job only."""

    name: str
    content: Content
    sha256: str
    dropped_as: str = ""
    replaced: bool = False  # a newer one of its name stands in its place
    trouble: Problem | None = None  # what a hand did to it after it was judged


@dataclass(frozen=True, slots=True)
class Before:
    """What the job's earlier verdict knew that a newer sheet may have left out."""

    customer: str = ""
    separations: int = 0  # how many the job has in all; 0 where no sheet said so


class FilmUse(NamedTuple):
    """The job of a film, empty where there is none, and the ticket with which its sheet came."""

    job: str = ""
    ticket: str = ""


@dataclass(frozen=True, slots=True)
class SameReadings:
    """A film of another job with the same readings as one of this job, in every digit."""

    digits: str  # of both, see `likeness`
    job: str
    days: float  # between the arrivals of their sheets


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
    tickets: tuple[JobTicket, ...] = ()
    was: str = ""  # the decision before this one
    used_for: str = ""  # another job under which the newest sheet's bytes were judged before
    notes: tuple[str, ...] = ()
    before: Before = Before()
    dropped_in: str = ""  # workflow of the drop folder, for a sheet that is filed elsewhere
    same_readings: tuple[SameReadings, ...] = ()  # at most one for the digits of each film
    signals: Mapping[str, Signals] = field(default_factory=dict)  # by folded separation

    @property
    def tickets_in_force(self) -> tuple[JobTicket, ...]:
        """The job tickets that count."""
        return tuple(ticket for ticket in self.tickets if not ticket.replaced)

    @property
    def newest(self) -> JobSheet:
        """The sheet that brought the job here."""
        return self.sheets[-1]


@dataclass(frozen=True, slots=True)
class Standing:
    """What counts now: the newest negative of each separation, and sheets that stand in the way."""

    negatives: tuple[tuple[JobSheet, Negative], ...]
    unreadable: tuple[JobSheet, ...]
    other_kinds: tuple[JobSheet, ...] = ()  # wedges and the like: they say nothing of a negative
    replaced: tuple[tuple[JobSheet, Negative, Negative], ...] = ()  # by what, the older, the newer

    def counts(self, sheet: JobSheet) -> bool:
        """Whether anything of this sheet still counts."""
        owners = [owner for owner, _ in self.negatives]
        return any(entry is sheet for entry in (*owners, *self.unreadable, *self.other_kinds))


def standing(sheets: tuple[JobSheet, ...]) -> Standing:
    """Return what counts: a newer negative replaces the older one of its separation.

    A negative without a separation's name is replaced by any newer one: a sheet is often dropped
    again just to add the name. A sheet that holds no negative, because it cannot be read or is
    meant for something else, stands in the way until a sheet of the same file name is one, or every
    separation that the job had before it has been measured anew: nobody knows which one it was
    meant to be. Where an earlier verdict knew, just those have to be.
    """
    newest: dict[str, tuple[int, JobSheet, Negative]] = {}
    replaced: list[tuple[JobSheet, Negative, Negative]] = []
    for index, sheet in enumerate(sheets):
        for negative in sheet.negatives:
            name = fold(negative.separation_name)
            older = [newest.pop(key)[2] for key in _takes_the_place_of(name, index, newest)]
            replaced += [(sheet, replaced_one, negative) for replaced_one in older]
            newest[name] = (index, sheet, negative)
    blocking = [
        sheet
        for index, sheet in enumerate(sheets)
        if not (sheet.negatives or sheet.replaced or _is_replaced(index, sheets, newest))
    ]
    return Standing(
        tuple((sheet, negative) for _, sheet, negative in newest.values()),
        tuple(sheet for sheet in blocking if not _is_of_other_kind(sheet)),
        tuple(sheet for sheet in blocking if _is_of_other_kind(sheet)),
        tuple(replaced),
    )


def _takes_the_place_of(
    name: str, index: int, newest: dict[str, tuple[int, JobSheet, Negative]]
) -> list[str]:
    """Return whom a new negative replaces: its namesake, and an earlier sheet's unnamed one."""
    keys = [name] if name in newest else []
    if name and "" in newest and newest[""][0] != index:
        keys.append("")
    return keys


def _is_of_other_kind(sheet: JobSheet) -> bool:
    return sheet.sheet is not None and sheet.sheet.kind is not SheetKind.NEGATIVE


def _is_replaced(
    index: int,
    sheets: tuple[JobSheet, ...],
    newest: dict[str, tuple[int, JobSheet, Negative]],
) -> bool:
    own_name, held = sheets[index].own_name, sheets[index].separations
    if held:  # known from an earlier verdict: only they can tell what takes its place
        return all(fold(name) in newest and newest[fold(name)][0] > index for name in held)
    if any(later.own_name == own_name and later.negatives for later in sheets[index + 1 :]):
        return True
    return bool(newest) and all(position > index for position, _, _ in newest.values())
