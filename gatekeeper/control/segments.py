"""A series cut where the printer's setup changed: readings before and after have no common level.

A segment is all readings of one setup (curve, film lot, head), in order. Two lots in use by turns
are two segments side by side, not a new one at every turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gatekeeper.control.series import Point, Series, Setup


@dataclass(frozen=True, slots=True)
class Segment:
    """Readings that can be compared with each other."""

    setup: Setup
    points: tuple[Point, ...]
    because: str  # what began it, in words; empty for the first of a series

    @property
    def values(self) -> list[float]:
        """The readings, in order."""
        return [point.value for point in self.points]


def segments_of(series: Series) -> tuple[Segment, ...]:
    """Return the segments in the order in which they began."""
    by_setup: dict[Setup, list[Point]] = {}
    for point in series.points:
        by_setup.setdefault(point.setup, []).append(point)
    found: list[Segment] = []
    for setup, points in by_setup.items():
        before = found[-1].setup if found else None
        found.append(Segment(setup, tuple(points), _because(before, setup)))
    return tuple(found)


def current(segments: tuple[Segment, ...]) -> Segment:
    """Return the segment of the newest reading; there must be one."""
    return max(segments, key=lambda segment: segment.points[-1].when)


def _because(before: Setup | None, setup: Setup) -> str:
    if before is None:
        return ""
    changes = []
    if setup.curve != before.curve:
        changes.append(f"new curve of {setup.curve}" if setup.curve else "no curve on record")
    if setup.lot != before.lot:
        changes.append(f"film lot {setup.lot}")
    if setup.head != before.head:
        changes.append(f"head changed on {setup.head}")
    return ", ".join(changes)
