"""The state table: what can be on the disk for one ticket, and where the work goes on.

It is data on purpose. A combination that is not in the table touches nothing and raises an alarm.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum


class Note(Enum):
    """The ticket's own file, `ticket.json`."""

    READABLE = "readable"
    NEW = "new"  # the folder's name still ends in .new
    DAMAGED = "damaged"


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
    DISCARD = "throw the ticket away: the sheet is not ours, or is found in drop again"
    SETTLE = "one inode: unlink the name in drop; two: the one in drop is a new arrival"
    UNLAND = "delete the landing; a half-written one is never continued"
    UNBENCH = "discard the job folder on the bench: it has been filed"
    REBUILD = "make a new ticket around the files; the verdict can only be held"
    ONLY_HELD = "the original was removed by hand: judge what is there; it can only be held"
    ALARM = "the files were removed by hand: keep the ticket and say so"


@dataclass(frozen=True, slots=True)
class Seen:
    """What is on the disk for one ticket."""

    sheet: Sheet
    begun: bool = False  # a reading was begun
    bench: Bench = Bench.NONE
    filed: Filed = Filed.NO
    note: Note = Note.READABLE


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; where it names nothing, anything fits."""

    number: int
    note: Note | None
    sheet: tuple[Sheet, ...]
    begun: tuple[bool, ...]
    bench: Bench | None
    filed: Filed | None
    tidy: Tidy
    go_on: Step | None  # None: the ticket rests
    left_by: str  # the step in which a kill leaves it; a hand or a rival otherwise

    def fits(self, seen: Seen) -> bool:
        """Whether this line describes what was seen."""
        return (
            self.note in {None, seen.note}
            and (not self.sheet or seen.sheet in self.sheet)
            and (not self.begun or seen.begun in self.begun)
            and self.bench in {None, seen.bench}
            and self.filed in {None, seen.filed}
        )


_KEPT, _NEW, _LOST = Note.READABLE, Note.NEW, Note.DAMAGED
_DROP, _IN, _BOTH, _GONE = (Sheet.DROP,), (Sheet.IN,), (Sheet.BOTH,), (Sheet.GONE,)
_ANY: tuple[Sheet, ...] = ()
_EITHER: tuple[bool, ...] = ()
_NEVER, _EVER = (False,), (True,)
_NONE, _OPEN, _DECIDED = Bench.NONE, Bench.OPEN, Bench.DECIDED
_NO, _LANDING, _YES = Filed.NO, Filed.LANDING, Filed.YES

# fmt: off
TABLE: tuple[Row, ...] = (
    #       ticket sheet       begun    bench     filed     put right       go on        step cut
    Row(1,  _NEW,  _DROP+_GONE, _EITHER, _NONE,    _NO,      Tidy.DISCARD,   None,        "1"),
    Row(2,  _KEPT, _DROP,       _EITHER, _NONE,    _NO,      Tidy.NOTHING,   Step.CLAIM,  "1"),
    Row(3,  _KEPT, _GONE,       _NEVER,  _NONE,    _NO,      Tidy.DISCARD,   None,        "rival"),
    Row(4,  _KEPT, _BOTH,       _EITHER, _NONE,    _NO,      Tidy.SETTLE,    Step.CLAIM,  "2"),
    Row(5,  _KEPT, _IN,         _EITHER, _NONE,    _NO,      Tidy.NOTHING,   Step.CLAIM,  "2-4"),
    Row(6,  _KEPT, _IN,         _EITHER, _OPEN,    _NO,      Tidy.NOTHING,   Step.READ,   "4-7"),
    Row(7,  _KEPT, _IN+_GONE,   _EITHER, _DECIDED, _NO,      Tidy.NOTHING,   Step.FILE,   "7, 8"),
    Row(8,  _KEPT, _ANY,        _EITHER, _DECIDED, _LANDING, Tidy.UNLAND,    Step.FILE,   "8"),
    Row(9,  _KEPT, _ANY,        _EITHER, _DECIDED, _YES,     Tidy.UNBENCH,   Step.RECORD, "8"),
    Row(10, _KEPT, _IN+_GONE,   _EITHER, _NONE,    _YES,     Tidy.NOTHING,   Step.RECORD, "8-10"),
    Row(11, _LOST, _IN,         _EITHER, None,     None,     Tidy.REBUILD,   Step.CLAIM,  "hand"),
    Row(11, _NEW,  _IN,         _EITHER, None,     None,     Tidy.REBUILD,   Step.CLAIM,  "hand"),
    Row(12, _KEPT, _GONE,       _EITHER, _OPEN,    _NO,      Tidy.ONLY_HELD, Step.READ,   "hand"),
    Row(13, _KEPT, _GONE,       _EVER,   _NONE,    _NO,      Tidy.ALARM,     None,        "hand"),
)
# fmt: on

CONCLUDES_ABSENCE = frozenset({3, 12, 13})
"""Rows that rest on something not being there: true only while every folder concerned is online."""


def row_of(seen: Seen) -> Row | None:
    """Return the line of the table that fits, None for row 14: touch nothing, raise an alarm."""
    return next((row for row in TABLE if row.fits(seen)), None)
