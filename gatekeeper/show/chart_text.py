"""A control chart in letters, for a terminal: the facts of the page's chart, in few lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.lines import columns
from gatekeeper.show.moments import day
from gatekeeper.show.svg import Axis, axis_around

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import tzinfo

    from gatekeeper.control.chart_facts import ChartFacts, ChartPoint

Level = tuple[float, str, str]
"""A value with the mark of its line and its name."""

Room = tuple[int, int]
"""Columns before the readings, and columns of readings."""


@dataclass(frozen=True, slots=True)
class Marks:
    """The letters of a chart, one column each."""

    reading: str
    held: str
    signal: str
    tolerance: str
    control: str
    level: str


ASCII = Marks("o", "X", "*", "=", "-", ".")
DRAWN = Marks("●", "X", "◆", "═", "╌", "·")


def chart_lines(
    facts: ChartFacts, zone: tzinfo, *, width: int = 76, height: int = 11, marks: Marks = DRAWN
) -> list[str]:
    """Return the chart, one column a reading as far as they fit (the newest ones), and its legend.

    Where two marks fall on one place the graver one stands: a held reading, then one that signals.
    """
    if not facts.points:
        return []
    levels = list(_levels(facts, marks))
    values = [value for value, _, _ in levels] + [point.value for point in facts.points]
    up = axis_around(values, height - 1, 0, room=0.02)
    start = max(columns(_said(value, facts)) for value in (up.low, up.high)) + 2
    shown = facts.points[-(width - start - 1) :]
    grid = [_line(row, up, facts, levels, (start, len(shown))) for row in range(height)]
    for column, point in enumerate(shown):
        grid[_row(point.value, up)][start + column] = _mark(point, marks)
    days = day(shown[0].when.astimezone(zone)), day(shown[-1].when.astimezone(zone))
    gap = max(len(shown) - columns(days[0]) - columns(days[1]), 1)
    foot = " " * start + (days[0] if days[0] == days[1] else days[0] + " " * gap + days[1])
    return [*("".join(line).rstrip() for line in grid), foot, _legend(facts, levels, marks)]


def _levels(facts: ChartFacts, marks: Marks) -> Iterator[Level]:
    """Yield the lines across, the gravest last: it stands where two fall together."""
    last = facts.stretches[-1]
    for value, mark, name in (
        (last.centre, marks.level, "level"),
        (last.lower, marks.control, "control limit"),
        (last.upper, marks.control, "control limit"),
        (facts.tolerance_lower, marks.tolerance, "tolerance"),
        (facts.tolerance_upper, marks.tolerance, "tolerance"),
    ):
        if value is not None:
            yield value, mark, name


def _line(row: int, up: Axis, facts: ChartFacts, levels: list[Level], size: Room) -> list[str]:
    here = [(value, mark) for value, mark, _ in levels if _row(value, up) == row]
    label, mark = (_said(here[-1][0], facts), here[-1][1]) if here else ("", " ")
    return list(label.rjust(size[0] - 2) + "  " + mark * size[1])


def _row(value: float, up: Axis) -> int:
    return min(max(round(up(value)), 0), round(up.begin))


def _mark(point: ChartPoint, marks: Marks) -> str:
    if point.held:
        return marks.held
    return marks.signal if point.shows else marks.reading


def _said(value: float, facts: ChartFacts) -> str:
    return f"{value:.1f}" if facts.unit == "percent" else f"{value:.2f}"


def _legend(facts: ChartFacts, levels: list[Level], marks: Marks) -> str:
    kinds = [(marks.reading, "reading")]
    kinds += [(marks.held, "held")] if any(point.held for point in facts.points) else []
    kinds += [(marks.signal, "signals")] if any(point.shows for point in facts.points) else []
    kinds += dict.fromkeys((mark, name) for _, mark, name in reversed(levels))
    unit = "%" if facts.unit == "percent" else facts.unit
    return f"{unit}: " + "  ".join(f"{mark} {name}" for mark, name in kinds)
