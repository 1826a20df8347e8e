"""A reading against its limit as SVG: what is asked is a bar, the limit a mark, both have numbers.

The reading is a ring if it keeps the limit and an X if it misses it; what its uncertainty spans
lies above it as a line with ends.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show import svg
from gatekeeper.show.limits import Direction
from gatekeeper.show.scale import is_missed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.show.limits import Edge, Figures

_SMALL = 12
_WIDTH = 360
_WITH_NUMBERS = svg.Frame(_WIDTH, 80)
_ALONE = svg.Frame(_WIDTH, 46, top=21)
_BAR = 44  # the height at which the bar runs


def scale_svg(edge: Edge, figures: Figures, says: str, *, has_numbers: bool = True) -> str:
    """Return a reading against its limit, nothing for a limit that points nowhere.

    Parameters
    ----------
    edge : the two numbers
    figures : the same as text, with units
    says : what it is about, for who cannot see it
    has_numbers : whether they stand in the drawing; else they stand beside it
    """
    if edge.direction not in {Direction.AT_LEAST, Direction.AT_MOST, Direction.AROUND}:
        return ""
    limits = _limits(edge)
    asked = figures.asked.replace("+/-", "±")
    span = (edge.measured - edge.uncertainty, edge.measured + edge.uncertainty)
    axis = svg.axis_around([*limits, *span], 14, _WIDTH - 14, room=0.25)
    body = [
        svg.line((axis.begin, _BAR), (axis.end, _BAR), 1, "2 4"),
        svg.line(*_asked(edge, axis, limits), 7),
        *(_upright(axis(limit), 13, 3) for limit in limits),
        *_reading(edge, axis, span),
    ]
    if has_numbers:
        body += [
            svg.line((axis(edge.measured), 20), (axis(edge.measured), _BAR - 9)),
            svg.words(_held_in(axis(edge.measured)), 16, figures.measured, anchor="middle"),
            svg.words(_held_in(axis(edge.limit)), 74, asked, anchor="middle", size=_SMALL),
        ]
    title = f"measured {figures.measured}, asked {asked}"
    return svg.drawing(_WITH_NUMBERS if has_numbers else _ALONE, title, says, "".join(body))


def _limits(edge: Edge) -> tuple[float, ...]:
    if edge.nominal is None:
        return (edge.limit,)
    return tuple(sorted((edge.limit, 2 * edge.nominal - edge.limit)))


def _asked(edge: Edge, axis: svg.Axis, limits: tuple[float, ...]) -> tuple[svg.Place, svg.Place]:
    """Return the ends of the bar that is asked."""
    begin = axis.begin if edge.direction is Direction.AT_MOST else axis(limits[0])
    end = axis.end if edge.direction is Direction.AT_LEAST else axis(limits[-1])
    return (begin, _BAR), (end, _BAR)


def _upright(x: float, half: float, width: float, y: float = _BAR) -> str:
    return svg.line((x, y - half), (x, y + half), width)


def _reading(edge: Edge, axis: svg.Axis, span: tuple[float, float]) -> Iterator[str]:
    """Yield the reading, and what its uncertainty spans as a line with ends above it."""
    low, high = map(axis, span)
    if edge.uncertainty:
        yield svg.line((low, _BAR - 17), (high, _BAR - 17), 2)
        yield from (_upright(x, 4, 2, _BAR - 17) for x in (low, high))
    place = axis(edge.measured)
    yield svg.cross(place, _BAR, 8) if is_missed(edge) else _kept(place)


def _kept(place: float) -> str:
    # A dot on the bar would drown in it: a ring with the ground inside stays one.
    ring = svg.element(
        "circle", cx=place, cy=_BAR, r=8, class_="kept", stroke="currentColor", stroke_width=3
    )
    return ring + svg.dot(place, _BAR, 3)


def _held_in(x: float) -> float:
    return min(max(x, 78), _WIDTH - 78)
