"""A reading against its limit, drawn in one line of characters.

The limit stands in the middle of the line (both limits, where it holds both ways), what is asked is
drawn as a bar, and the reading is one sign if it keeps the limit, another if it misses it, between
the ends of what its uncertainty spans. A reading that differs from the limit never lies on it,
however near it is, so that its side shows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.limits import Direction
from gatekeeper.show.numbers import SAME

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.show.limits import Edge


@dataclass(frozen=True, slots=True)
class Signs:
    """The characters that a scale is drawn with, one column each."""

    asked: str
    beyond: str
    limit: str
    kept: str
    missed: str
    from_here: str = "("  # the ends of what the reading's uncertainty spans
    to_here: str = ")"


ASCII = Signs(asked="=", beyond=".", limit="|", kept="o", missed="X")
DRAWN = Signs(asked="━", beyond="·", limit="┃", kept="●", missed="X")

_VIEWS = (0.1, 1.0)
"""Shares of the limit that half of the line stands for; the smaller one if it holds the reading."""


def scale(edge: Edge, signs: Signs = ASCII, half: int = 15) -> str:
    """Return a line of `2 * half + 1` columns, or nothing for a limit that points nowhere."""
    if edge.direction not in {Direction.AT_LEAST, Direction.AT_MOST, Direction.AROUND}:
        return ""
    middle = edge.limit if edge.nominal is None else edge.nominal
    reach = _reach(edge, middle)
    limit = _limit_column(edge, reach, half)
    limits = {half - limit, half + limit}
    line = [
        signs.limit if column in limits else _ground(edge, column, limits, signs)
        for column in range(2 * half + 1)
    ]
    sign = signs.missed if is_missed(edge) else signs.kept
    reading = half + _reading_column(edge, round((edge.measured - middle) / reach * half), limit)
    for column, end in _ends(edge, middle, reach, half, signs):
        if column != reading and column not in limits:
            line[column] = end
    line[reading] = sign
    return "".join(line)


def legend(edge: Edge, signs: Signs = ASCII) -> str:
    """Return what the signs of a scale mean, in the order in which they matter."""
    reading = signs.missed if is_missed(edge) else signs.kept
    ends = f"{signs.from_here} {signs.to_here} its doubt  " if edge.uncertainty else ""
    return f"{reading} reading  {ends}{signs.limit} limit  {signs.asked} asked"


def is_missed(edge: Edge) -> bool:
    """Whether the reading lies beyond the limit, as the checks compare."""
    beyond = edge.measured - edge.limit
    if edge.direction is Direction.AROUND and edge.nominal is not None:
        return abs(edge.measured - edge.nominal) - abs(edge.limit - edge.nominal) > SAME
    return (-beyond if edge.direction is Direction.AT_LEAST else beyond) > SAME


def _reach(edge: Edge, middle: float) -> float:
    """Return the distance that half of the line stands for; the reading lies within it."""
    distance = abs(edge.measured - middle) + edge.uncertainty
    if edge.nominal is not None:
        return max(2 * abs(edge.limit - middle), distance) or 1.0
    views = (share * abs(edge.limit) for share in _VIEWS)
    return next((view for view in views if view >= distance), distance) or 1.0


def _ends(
    edge: Edge, middle: float, reach: float, half: int, signs: Signs
) -> Iterator[tuple[int, str]]:
    """Yield where the span of the uncertainty ends; one below half a column is not drawn."""
    if not edge.uncertainty:
        return
    for value, sign in (
        (edge.measured - edge.uncertainty, signs.from_here),
        (edge.measured + edge.uncertainty, signs.to_here),
    ):
        yield half + round((value - middle) / reach * half), sign


def _limit_column(edge: Edge, reach: float, half: int) -> int:
    """Return how far from the middle the limits stand: 0, or a column on each side of it."""
    if edge.nominal is None:
        return 0
    return max(1, round(abs(edge.limit - edge.nominal) / reach * half))


def _ground(edge: Edge, column: int, limits: set[int], signs: Signs) -> str:
    inside = {
        Direction.AT_LEAST: column > min(limits),
        Direction.AT_MOST: column < max(limits),
        Direction.AROUND: min(limits) < column < max(limits),
    }
    return signs.asked if inside[edge.direction] else signs.beyond


def _reading_column(edge: Edge, column: int, limit: int) -> int:
    """Return the reading's column from the middle, off the limit and on the side where it lies."""
    if edge.nominal is not None and edge.limit < edge.nominal:
        limit = -limit
    beyond = edge.measured - edge.limit
    if abs(beyond) <= SAME:
        return limit
    return max(column, limit + 1) if beyond > 0 else min(column, limit - 1)
