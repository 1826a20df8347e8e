"""Plain text in a fixed width: how wide a text is, where it breaks, how a table fits.

Units    widths are columns of a terminal: a wide character fills two, an accent none.
Source   Unicode Standard Annex 11 (East Asian Width), as the interpreter's own tables give it.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from itertools import zip_longest
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

WIDTH = 78
"""Columns of a page that prints and mails without breaking."""

GAP = "  "

LONGEST = 1000
"""Characters of a sentence that are shown; what is longer is no sentence."""

_NARROWEST = 6  # columns that a column of a table keeps, however long its neighbours are
_BREAKS = "/_.-:"  # a long word may break behind these
_WIDENED = ((0x2630, 0x2637), (0x268A, 0x268F), (0x4DC0, 0x4DFF), (0x1D300, 0x1D376))
# … by Unicode 16: terminals draw them wide, the interpreter's older tables call them narrow.


def columns(text: str) -> int:
    """Return how many columns a text fills at most; it holds no control characters."""
    return len(text) if text.isascii() else sum(map(_columns_of, text))


@lru_cache(4_096)  # a page has few signs beyond ASCII, each many times
def _columns_of(character: str) -> int:
    category = unicodedata.category(character)
    if category in {"Mn", "Me"}:
        return 1 if character == "\ufe0f" else 0  # this sign turns a narrow picture into a wide one
    unassigned = category == "Cn"  # may be a picture that is newer than the interpreter
    if unassigned or unicodedata.east_asian_width(character) in {"W", "F"}:
        return 2
    return 2 if any(low <= ord(character) <= high for low, high in _WIDENED) else 1


def padded(text: str, width: int) -> str:
    """Return the text with blanks behind it up to the width."""
    return text + " " * (width - columns(text))


def cut(text: str, width: int, mark: str = "...") -> str:
    """Return the text if it fits, else its beginning with a mark behind it; width is 5 or more."""
    if columns(text) <= width:
        return text
    head, _ = _split(text, width - columns(mark))
    return head.rstrip() + mark


def wrapped(text: str, width: int = WIDTH, *, first: str = "", rest: str = "") -> list[str]:
    """Return the words of a text in lines no wider than the width, behind `first` and then `rest`.

    A word wider than a line is broken, behind a slash, point or dash where there is one.
    """
    room = width - max(columns(first), columns(rest)) if first or rest else width
    measure: Callable[[str], int] = len if text.isascii() else columns
    if measure(text) <= room:
        return [first + _tidied(text)]
    lines: list[str] = []
    line = ""
    for word in text.split():
        pieces = (word,) if measure(word) <= room else _pieces(word, room)
        for number, piece in enumerate(pieces):
            longer = f"{line} {piece}" if line else piece
            if line and (number or measure(longer) > room):
                lines.append(line)
                longer = piece
            line = longer
    lines.append(line)
    return [(rest if number else first) + line for number, line in enumerate(lines)]


def _pieces(word: str, width: int) -> Iterator[str]:
    while columns(word) > width:
        head, tail = _split(word, width)
        at = max(head.rfind(mark) for mark in _BREAKS) + 1
        if at > len(head) // 4:  # a shorter piece would stand there like a slip
            head, tail = head[:at], head[at:] + tail
        yield head
        word = tail
    yield word


def _split(text: str, width: int) -> tuple[str, str]:
    """Return the longest beginning that fits (at least one character) and what is left."""
    filled = 0
    for index, character in enumerate(text):
        filled += _columns_of(character)
        if filled > width and index:
            return text[:index], text[index:]
    return text, ""


def table(rows: Iterable[Sequence[str]], width: int = WIDTH, *, indent: str = "") -> list[str]:
    """Return rows in aligned columns; where they do not fit, the widest column wraps."""
    cells = [list(row) for row in rows]
    if not cells:
        return []
    is_ascii = "".join(map("".join, cells)).isascii()
    measure: Callable[[str], int] = len if is_ascii else columns
    pad = str.ljust if is_ascii else padded
    widths = [max(map(measure, column)) for column in zip(*cells, strict=True)]
    room = width - columns(indent) - len(GAP) * (len(widths) - 1)
    if sum(widths) <= room:
        levels = [list(map(_tidied, row)) for row in cells]
    else:
        while sum(widths) > room and max(widths) > _NARROWEST:
            widths[widths.index(max(widths))] -= 1
        stacks = [map(wrapped, row, widths) for row in cells]
        levels = [list(level) for row in stacks for level in zip_longest(*row, fillvalue="")]
    return [(indent + GAP.join(map(pad, level, widths))).rstrip() for level in levels]


def _tidied(text: str) -> str:
    return " ".join(text.split())
