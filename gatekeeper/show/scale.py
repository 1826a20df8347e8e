"""A reading against its limit, drawn in one line of characters.

The limit stands in the middle of the line (both limits, where it holds both ways), what is asked is
drawn as a bar, and the reading is one sign if it keeps the limit, another if it misses it. A
reading that differs from the limit never lies on it, however near it is, so that its side shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.limits import Direction
from gatekeeper.show.numbers import SAME

if TYPE_CHECKING:
    from gatekeeper.show.limits import Edge


@dataclass(frozen=True, slots=True)
class Signs:
    """The characters that a scale is drawn with, one column each."""

    asked: str
    beyond: str
    limit: str
    kept: str
    missed: str


ASCII = Signs(asked="=", beyond=".", limit="|", kept="o", missed="X")
DRAWN = Signs(asked="━", beyond="·", limit="┃", kept="●", missed="X")

_NEAREST = 0.1
"""Share of the limit that the line shows on each side at least, so that near readings look near."""


def scale(edge: Edge, signs: Signs = ASCII, half: int = 15) -> str:
    """Return a line of `2 * half + 1` columns, or nothing for a limit that points nowhere."""
    if edge.direction not in {Direction.AT_LEAST, Direction.AT_MOST, Direction.AROUND}:
        return ""
    middle = edge.limit if edge.nominal is None else edge.nominal
    reach = _reach(edge, middle)
    tolerance = abs(edge.limit - middle)
    limits = {half + _column(side * tolerance, reach, half) for side in (-1, 1)}
    line = [
        signs.limit if column in limits else _ground(edge, column, limits, signs)
        for column in range(2 * half + 1)
    ]
    line[_reading_column(edge, middle, reach, half)] = (
        signs.missed if is_missed(edge) else signs.kept
    )
    return "".join(line)


def legend(edge: Edge, signs: Signs = ASCII) -> str:
    """Return what the signs of a scale mean, in the order in which they matter."""
    reading = signs.missed if is_missed(edge) else signs.kept
    return f"{reading} reading  {signs.limit} limit  {signs.asked} asked"


def is_missed(edge: Edge) -> bool:
    """Whether the reading lies beyond the limit, as the checks compare."""
    beyond = edge.measured - edge.limit
    if edge.direction is Direction.AROUND and edge.nominal is not None:
        return abs(edge.measured - edge.nominal) - abs(edge.limit - edge.nominal) > SAME
    return (-beyond if edge.direction is Direction.AT_LEAST else beyond) > SAME


def _reach(edge: Edge, middle: float) -> float:
    """Return the distance that half of the line stands for, with room for the reading in it."""
    wide = 2 * abs(edge.limit - middle) if edge.nominal is not None else _NEAREST * abs(edge.limit)
    return max(wide, abs(edge.measured - middle)) or 1.0


def _column(distance: float, reach: float, half: int) -> int:
    return round(distance / reach * half)


def _ground(edge: Edge, column: int, limits: set[int], signs: Signs) -> str:
    inside = {
        Direction.AT_LEAST: column > min(limits),
        Direction.AT_MOST: column < max(limits),
        Direction.AROUND: min(limits) < column < max(limits),
    }
    return signs.asked if inside[edge.direction] else signs.beyond


def _reading_column(edge: Edge, middle: float, reach: float, half: int) -> int:
    column = _column(edge.measured - middle, reach, half)
    limit = _column(edge.limit - middle, reach, half)
    beyond = edge.measured - edge.limit
    if abs(beyond) > SAME:
        column = max(column, limit + 1) if beyond > 0 else min(column, limit - 1)
    return half + max(-half, min(half, column))
