"""One series looked at whole: its segments, what they show, where the level goes, how it fits.

Pure     no file, no database; the present moment and the room's zone are handed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.base_period import FEWEST_READINGS, BasePeriod, base_period
from gatekeeper.control.prospect import Prospect, prospect
from gatekeeper.control.segments import current, segments_of
from gatekeeper.control.watch import Watch, watch
from gatekeeper.control.words import drift_says, level_says, reading_says
from gatekeeper.measures.chart import capability
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime, tzinfo

    from gatekeeper.control.segments import Segment
    from gatekeeper.control.series import Series
    from gatekeeper.measures.capability import Capability


@dataclass(frozen=True, slots=True)
class Stretch:
    """One segment with its limits and what it shows."""

    segment: Segment
    base: BasePeriod
    seen: Watch


@dataclass(frozen=True, slots=True)
class Trend:
    """Everything that is said of one series.

    Attributes
    ----------
    stretches : its segments, in the order in which they began
    now : the one of the newest reading
    prospect : where the level of that one goes; None where nothing can be told
    capability : how that one fits between its tolerances; None where nothing can be told
    says : in plain words, the most pressing first; nothing when all is quiet
    is_news : the level will leave its tolerance soon, and somebody should act
    """

    series: Series
    stretches: tuple[Stretch, ...]
    now: Stretch
    prospect: Prospect | None
    capability: Capability | None
    says: tuple[str, ...]
    is_news: bool


def trend_of(series: Series, now: datetime, zone: tzinfo) -> Trend:
    """Look at a series; it must have at least one reading.

    Parameters
    ----------
    now : the present moment, aware of its zone
    zone : in which days are named
    """
    segments = segments_of(series)
    newest = current(segments)
    stretches = tuple(_stretch(segment) for segment in segments)
    stretch = stretches[segments.index(newest)]
    ahead = prospect(newest.points, series.tolerance, stretch.seen, now)
    says = tuple(_says(series, stretch, ahead, now, zone))
    return Trend(
        series=series,
        stretches=stretches,
        now=stretch,
        prospect=ahead,
        capability=_capability(series, newest),
        says=says,
        is_news=ahead is not None and ahead.is_news,
    )


def _stretch(segment: Segment) -> Stretch:
    base = base_period(segment.values)
    return Stretch(segment, base, watch(segment.values, base))


def _says(
    series: Series, stretch: Stretch, ahead: Prospect | None, now: datetime, zone: tzinfo
) -> Iterator[str]:
    points, seen, chart = stretch.segment.points, stretch.seen, stretch.base.chart
    if chart is None:
        return
    if ahead is not None and ahead.is_news:
        moved = points[seen.since or 0 :]
        yield drift_says(series, moved, ahead, chart.centre, now=now, zone=zone)
    elif seen.is_off:
        yield level_says(series, points[seen.since or 0 :], chart.centre, zone)
    else:  # while the level is off, single readings outside the old limits are no surprise
        yield from reading_says(series, points[-1], seen.at(len(points) - 1), chart)


def _capability(series: Series, segment: Segment) -> Capability | None:
    if not series.tolerance.is_set or len(segment.points) < FEWEST_READINGS:
        return None
    limits = series.tolerance
    try:
        return capability(segment.values, lower=limits.lower, upper=limits.upper)
    except MeasureError:
        return None  # the readings hardly differ
