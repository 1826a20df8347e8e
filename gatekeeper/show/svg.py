"""Elements of SVG as text: escaped, with numbers of fixed digits, so equal facts give equal bytes.

Drawings carry no colour: lines and letters take the text's own (`currentColor`), so that they are
as legible as the text around them, on a screen, in print and under forced colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import floor, log10
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_FINEST = 1e-3  # what an axis shows at least on each side: no reading is finer

Place = tuple[float, float]
"""Across and down, in units of the drawing."""


def element(name: str, body: str = "", **attributes: float | str) -> str:
    """Return an element; `stroke_width` becomes stroke-width, the body stands as it is."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"'
        for key, value in attributes.items()
    )
    return f"<{name}{written}>{body}</{name}>" if body else f"<{name}{written}/>"


def _value(value: float | str) -> str:
    return escape(value, quote=True) if isinstance(value, str) else number(value)


def number(value: float) -> str:
    """Return a coordinate: a tenth of a unit is less than an eye can see."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def words(x: float, y: float, text: str, *, anchor: str = "start", size: float = 13) -> str:
    """Return text at a place; `anchor` is start, middle or end."""
    return element(
        "text", escape(text), x=x, y=y, text_anchor=anchor, font_size=size, fill="currentColor"
    )


def line(begin: Place, end: Place, width: float = 1, dashes: str = "") -> str:
    """Return a straight line; `dashes` such as "6 4"."""
    more = {"stroke_dasharray": dashes} if dashes else {}
    return element(
        "line",
        x1=begin[0],
        y1=begin[1],
        x2=end[0],
        y2=end[1],
        stroke="currentColor",
        stroke_width=width,
        **more,
    )


def path(points: Sequence[Place], width: float = 1, dashes: str = "") -> str:
    """Return a line through points, nothing where there are fewer than two."""
    if len(points) < 2:  # noqa: PLR2004 -- a line has two ends
        return ""
    more = {"stroke_dasharray": dashes} if dashes else {}
    places = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return element(
        "polyline", points=places, fill="none", stroke="currentColor", stroke_width=width, **more
    )


def dot(x: float, y: float, radius: float = 3) -> str:
    """Return a filled circle: a reading like any other."""
    return element("circle", cx=x, cy=y, r=radius, fill="currentColor")


def ring(x: float, y: float, radius: float = 3.5) -> str:
    """Return an open circle: a second kind of reading."""
    return element(
        "circle", cx=x, cy=y, r=radius, fill="none", stroke="currentColor", stroke_width=1.5
    )


def diamond(x: float, y: float, radius: float = 7) -> str:
    """Return an open diamond: a reading that signals something."""
    corners = ((x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y))
    places = " ".join(f"{number(a)},{number(b)}" for a, b in corners)
    return element("polygon", points=places, fill="none", stroke="currentColor", stroke_width=2)


def cross(x: float, y: float, arm: float = 6) -> str:
    """Return an X: a reading that misses its limit."""
    falling = line((x - arm, y - arm), (x + arm, y + arm), 3)
    return falling + line((x - arm, y + arm), (x + arm, y - arm), 3)


@dataclass(frozen=True, slots=True)
class Frame:
    """What of the drawing is seen."""

    width: float
    height: float
    top: float = 0


def drawing(frame: Frame, title: str, says: str, body: str) -> str:
    """Return the whole drawing; who cannot see it is told the title and what it says."""
    told = element("title", escape(title)) + (element("desc", escape(says)) if says else "")
    return element(
        "svg",
        told + body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 {number(frame.top)} {number(frame.width)} {number(frame.height)}",
        role="img",
        aria_label=f"{title}. {says}" if says else title,
        font_family="inherit",
    )


@dataclass(frozen=True, slots=True)
class Axis:
    """Values between `low` and `high` to places between `begin` and `end`; either may fall."""

    low: float
    high: float
    begin: float
    end: float

    def __call__(self, value: float) -> float:
        """Return the place of a value."""
        share = (value - self.low) / ((self.high - self.low) or 1.0)
        return self.begin + share * (self.end - self.begin)

    def ticks(self, most: int = 6) -> list[float]:
        """Return round values on the axis, about so many, in steps of 1, 2 or 5 times a power."""
        span = self.high - self.low
        if span <= 0:
            return [self.low]
        rough = span / most
        power = 10.0 ** floor(log10(rough))
        step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough * 0.999)
        first = floor(self.low / step)
        found = [(first + index) * step for index in range(most + 3)]
        room = span * 1e-9
        return [value for value in found if self.low - room <= value <= self.high + room]


def axis_around(values: Sequence[float], begin: float, end: float, room: float = 0.08) -> Axis:
    """Return an axis that holds all values with a margin on both sides."""
    low, high = min(values), max(values)
    margin = (high - low) * room
    if margin < _FINEST:
        margin = max(abs(high) * room, _FINEST)
    return Axis(low - margin, high + margin, begin, end)
