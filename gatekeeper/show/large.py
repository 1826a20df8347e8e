"""Letters five lines high, for the one job that must be read from across the room.

Drawn for this program on a grid of three by five; a dot is two columns wide, because a cell of a
terminal is about twice as high as it is wide.
"""

from __future__ import annotations

HEIGHT = 5
_DOT = 2  # columns
_GLYPH = 3 * _DOT + _DOT  # with the gap behind it
_SCALES = (3, 2, 1)

# Five rows of three, from the top; x is a dot.
_DOTS = {
    "0": "xxx x.x x.x x.x xxx",
    "1": ".x. xx. .x. .x. xxx",
    "2": "xxx ..x xxx x.. xxx",
    "3": "xxx ..x .xx ..x xxx",
    "4": "x.x x.x xxx ..x ..x",
    "5": "xxx x.. xxx ..x xxx",
    "6": "xxx x.. xxx x.x xxx",
    "7": "xxx ..x ..x .x. .x.",
    "8": "xxx x.x xxx x.x xxx",
    "9": "xxx x.x xxx ..x xxx",
    "A": ".x. x.x xxx x.x x.x",
    "B": "xx. x.x xx. x.x xx.",
    "C": ".xx x.. x.. x.. .xx",
    "D": "xx. x.x x.x x.x xx.",
    "E": "xxx x.. xx. x.. xxx",
    "F": "xxx x.. xx. x.. x..",
    "G": ".xx x.. x.x x.x .xx",
    "H": "x.x x.x xxx x.x x.x",
    "I": "xxx .x. .x. .x. xxx",
    "J": "..x ..x ..x x.x .x.",
    "K": "x.x x.x xx. x.x x.x",
    "L": "x.. x.. x.. x.. xxx",
    "M": "x.x xxx xxx x.x x.x",
    "N": "xx. x.x x.x x.x x.x",
    "O": ".x. x.x x.x x.x .x.",
    "P": "xx. x.x xx. x.. x..",
    "Q": ".x. x.x x.x xxx .xx",
    "R": "xx. x.x xx. x.x x.x",
    "S": ".xx x.. .x. ..x xx.",
    "T": "xxx .x. .x. .x. .x.",
    "U": "x.x x.x x.x x.x xxx",
    "V": "x.x x.x x.x x.x .x.",
    "W": "x.x x.x xxx xxx x.x",
    "X": "x.x x.x .x. x.x x.x",
    "Y": "x.x x.x .x. .x. .x.",
    "Z": "xxx ..x .x. x.. xxx",
    "-": "... ... xxx ... ...",
    "_": "... ... ... ... xxx",
    "/": "..x ..x .x. x.. x..",
    ".": "... ... ... ... .x.",
    " ": "... ... ... ... ...",
}


def large(text: str, width: int, height: int, dot: str = "█") -> list[str]:
    """Return the text as large as it fits, at most three times; no lines where it does not fit.

    Letters that are not drawn here leave nothing either: half a job number is another job's.
    """
    letters = text.upper()
    if not letters or any(letter not in _DOTS for letter in letters):
        return []
    scales = (
        scale
        for scale in _SCALES
        if scale * (len(letters) * _GLYPH - _DOT) <= width and scale * HEIGHT <= height
    )
    scale = next(scales, 0)
    grids = [_DOTS[letter].split() for letter in letters]
    return [_row(grids, row, scale * _DOT, dot) for row in range(HEIGHT) for _ in range(scale)]


def _row(grids: list[list[str]], row: int, width: int, dot: str) -> str:
    drawn = ("".join((dot if mark == "x" else " ") * width for mark in grid[row]) for grid in grids)
    return (" " * width).join(drawn).rstrip()
