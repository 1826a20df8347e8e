"""The state table: what can be on the disk for one ticket, and where the work goes on.

It is data on purpose. A combination that is not in the table touches nothing and raises an alarm.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum


class Sheet(Enum):
    """Where the sheet is; in `drop` only with the identity that the ticket names."""

    DROP = "drop"
    IN = "in"
    BOTH = "both"
    GONE = "gone"


class Bench(Enum):
    """What the bench holds."""

    NONE = "none"  # no job folder
    OPEN = "open"  # a job folder without a valid verdict of this ticket
    DECIDED = "decided"


class Filed(Enum):
    """Whether the job folder stands in its target."""

    NO = "no"
    LANDING = "landing"  # a copy to another filesystem was cut
    YES = "yes"


class Step(IntEnum):
    """Steps of the story at which a ticket can go on."""

    CLAIM = 2
    READ = 3
    FILE = 8
    RECORD = 9


class Tidy(Enum):
    """What is put right before going on."""

    NOTHING = "nothing"
    DISCARD_TICKET = "discard the ticket: the sheet is not ours, or no longer there"
    SETTLE_BOTH = "one inode: unlink the name in drop; two: the one in drop is a new arrival"
    DELETE_LANDING = "delete the landing; a half-written one is never continued"
    DISCARD_BENCH = "discard the job folder on the bench: it has been filed"
    ONLY_HELD = "the original was removed by hand: judge what is there; it can only be held"
    ALARM_MISSING = "the files were removed by hand: keep the ticket and say so"


@dataclass(frozen=True, slots=True)
class Seen:
    """What is on the disk for one ticket whose `ticket.json` can be read."""

    sheet: Sheet
    attempted: bool  # a reading was begun
    bench: Bench
    filed: Filed


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; an empty set means any."""

    number: int
    sheet: frozenset[Sheet]
    bench: Bench
    filed: Filed
    tidy: Tidy
    go_on: Step | None  # None: the ticket rests
    left_by: str
    attempted: bool | None = None  # None: either

    def fits(self, seen: Seen) -> bool:
        """Whether this line describes what was seen."""
        return (
            (not self.sheet or seen.sheet in self.sheet)
            and seen.bench is self.bench
            and seen.filed is self.filed
            and (self.attempted is None or seen.attempted is self.attempted)
        )


def _set(*sheets: Sheet) -> frozenset[Sheet]:
    return frozenset(sheets)


# Rows 1 and 11 have no readable ticket.json; `recovery.py` finds them in the claims folder.
TABLE: tuple[Row, ...] = (
    Row(2, _set(Sheet.DROP), Bench.NONE, Filed.NO, Tidy.NOTHING, Step.CLAIM, "a kill after step 1"),
    Row(
        3,
        _set(Sheet.GONE),
        Bench.NONE,
        Filed.NO,
        Tidy.DISCARD_TICKET,
        None,
        "another gate won, or the sheet was withdrawn or replaced",
        attempted=False,
    ),
    Row(
        4,
        _set(Sheet.BOTH),
        Bench.NONE,
        Filed.NO,
        Tidy.SETTLE_BOTH,
        Step.CLAIM,
        "a claim by link, then unlink, was cut",
    ),
    Row(
        5,
        _set(Sheet.IN),
        Bench.NONE,
        Filed.NO,
        Tidy.NOTHING,
        Step.CLAIM,
        "a kill in step 2, 3 or 4",
    ),
    Row(6, _set(Sheet.IN), Bench.OPEN, Filed.NO, Tidy.NOTHING, Step.READ, "a kill in step 4 to 7"),
    Row(
        7,
        _set(Sheet.IN, Sheet.GONE),
        Bench.DECIDED,
        Filed.NO,
        Tidy.NOTHING,
        Step.FILE,
        "a kill in step 7 or 8",
    ),
    Row(
        8,
        _set(),
        Bench.DECIDED,
        Filed.LANDING,
        Tidy.DELETE_LANDING,
        Step.FILE,
        "a kill in a filing across filesystems",
    ),
    Row(
        9,
        _set(),
        Bench.DECIDED,
        Filed.YES,
        Tidy.DISCARD_BENCH,
        Step.RECORD,
        "a kill after a filing across filesystems",
    ),
    Row(
        10,
        _set(Sheet.IN, Sheet.GONE),
        Bench.NONE,
        Filed.YES,
        Tidy.NOTHING,
        Step.RECORD,
        "a kill in step 8 to 10",
    ),
    Row(
        12,
        _set(Sheet.GONE),
        Bench.OPEN,
        Filed.NO,
        Tidy.ONLY_HELD,
        Step.READ,
        "no kill: the original was removed by hand",
    ),
    Row(
        13,
        _set(Sheet.GONE),
        Bench.NONE,
        Filed.NO,
        Tidy.ALARM_MISSING,
        None,
        "no kill: the files were removed by hand",
        attempted=True,
    ),
)

CONCLUDES_ABSENCE = frozenset({3, 12, 13})
"""Rows that rest on something not being there: true only while every folder concerned is online."""


def row_of(seen: Seen) -> Row | None:
    """Return the line of the table that fits, None for row 14: touch nothing, raise an alarm."""
    return next((row for row in TABLE if row.fits(seen)), None)
