"""A screen as lines of words, each with the rank in which it is shown; how ranks look is painted.

Units    widths are columns of a terminal.
"""

from __future__ import annotations

from enum import Enum
from itertools import zip_longest
from typing import TYPE_CHECKING

from gatekeeper.show.lines import GAP, columns, cut, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence


class Ink(Enum):
    """What a piece of text is; the words must say the same without it."""

    TEXT = "text"
    SOFT = "soft"
    STRONG = "strong"
    HELD = "held"
    BAR = "bar"  # the head of a held job, reversed over the whole width
    ALARM = "alarm"
    PASSED = "passed"


Piece = tuple[str, Ink]
Line = tuple[Piece, ...]

BLANK: Line = ()


def width_of(line: Line) -> int:
    """Return how many columns a line fills."""
    return sum(columns(text) for text, _ in line)


def fitted(line: Line, width: int) -> Line:
    """Return a line of exactly this width: cut with a mark, or filled with blanks."""
    kept: list[Piece] = []
    room = width
    for text, ink in line:
        if room <= 0:
            break
        shown = text if columns(text) <= room else _cut(text, room)
        kept.append((shown, ink))
        room -= columns(shown)
    if room > 0:
        kept.append((" " * room, Ink.TEXT))
    return tuple(kept)


def _cut(text: str, width: int) -> str:
    return cut(text, width) if width >= len("a....") else "." * width


def labelled(label: Piece, text: str, ink: Ink, width: int, *, most: int, start: int) -> list[Line]:
    """Return text in at most so many lines behind a label of `start` columns."""
    room = max(width - start, 8)
    rows = wrapped(text, room)
    if len(rows) > most:
        rows = [*rows[: most - 1], cut(" ".join(rows[most - 1 :]), room)]
    blank = " " * start
    head = (label[0] + blank)[:start], label[1]
    return [(head if number == 0 else (blank, ink), (row, ink)) for number, row in enumerate(rows)]


def ends(left: Line, right: Line, width: int) -> Line:
    """Return a line with one part at its left and one at its right end; the right one may go."""
    gap = width - width_of(left) - width_of(right)
    if gap < len(GAP):
        return fitted(left, width)
    filler = right[0][1] if right else Ink.TEXT
    return (*left, (" " * gap, filler), *right)


def side_by_side(left: Sequence[Line], right: Sequence[Line], width: int, gap: int) -> list[Line]:
    """Return two columns as one: the left one takes `width` columns and a gap."""
    return [
        (*fitted(one, width), (" " * gap, Ink.TEXT), *other)
        for one, other in zip_longest(left, right, fillvalue=BLANK)
    ]
