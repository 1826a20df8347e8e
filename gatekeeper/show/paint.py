"""Lines of words on a terminal: each rank in weight and colour, on the dark warm ground.

Where there is no colour, weight and reversal are left; where there is neither, the words are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group
from rich.text import Text

from gatekeeper.show.board_parts import DRAWN, LETTERS, Shapes
from gatekeeper.show.cells import Ink, Line
from gatekeeper.show.palette import DARK
from gatekeeper.show.screen import words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

_STYLES = {
    Ink.TEXT: DARK.text,
    Ink.SOFT: DARK.soft,
    Ink.STRONG: f"bold {DARK.text}",
    Ink.HELD: DARK.held,
    Ink.BAR: f"bold reverse {DARK.held}",
    Ink.ALARM: f"bold {DARK.alarm}",
    Ink.PASSED: DARK.passed,
}
_SMALL_FONTS = {"linux", "dumb", "vt100", "vt220", "ansi"}
"""Terminals whose letters are few: they get signs that every font has."""


def shapes_for(console: Console, terminal: str) -> Shapes:
    """Return the signs that this terminal can show; `terminal` is its $TERM."""
    return LETTERS if console.options.ascii_only or terminal in _SMALL_FONTS else DRAWN


def painted(console: Console, lines: Iterable[Line]) -> Group:
    """Return the lines as one thing to print."""
    return Group(*(_text(console, line) for line in lines))


def as_text(console: Console, lines: Iterable[Line]) -> str:
    """Return the lines without weight and colour, and without trailing blanks: for a pipe."""
    shown = ("".join(words(console, text).plain for text, _ in line) for line in lines)
    return "".join(f"{line.rstrip()}\n" for line in shown)


def _text(console: Console, line: Line) -> Text:
    pieces = (words(console, text, f"{_STYLES[ink]} on {DARK.ground}") for text, ink in line)
    return Text.assemble(*pieces, no_wrap=True, overflow="crop", end="\n")
