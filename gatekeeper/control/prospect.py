"""When a drifting level is expected to leave its tolerance, and whether that is worth saying.

Units    times are moments; slopes in the unit of the readings a day.
Sources  the line and its bounds as in `measures.forecast`. The line is laid through the readings
         since the level began to leave, and `LEAD_IN` before: by simulation of a plate room with
         known drifts the bounds, stated as 95 %, then hold the true day in 89 to 97 % of cases,
         whether the drift is there from the start or sets in later. A level that has jumped and
         stays is no drift: what is foretold must fit a ramp better than a step. The rule is ours.
Pure     no file, no clock: the present moment is handed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.chart import forecast_crossing
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.robust_line import FEWEST_READINGS, MOST_READINGS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.control.series import Point, Tolerance
    from gatekeeper.control.watch import Watch
    from gatekeeper.measures.forecast import Forecast

LEAD_IN: Final = 5
"""Readings before the level began to leave that the line takes in."""

HORIZON: Final = timedelta(days=30)
"""A crossing later than this is no news: a month is the usual life of a curve (common practice)."""

REST: Final = timedelta(days=14)
"""A printer without a reading for so long is not being watched: nothing is foretold for it."""

CONFIDENCE: Final = 0.95
_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Prospect:
    """Where the level drifts.

    Attributes
    ----------
    since : moment of the first reading that the line takes in
    per_day, per_day_lower, per_day_upper : drift and its bounds, unit of the readings a day
    level : height of the line at the newest reading
    limit : the tolerance that lies that way; None where there is none
    crossing, earliest, latest : when the level is expected there, and its bounds; None as in
        `measures.forecast`
    reading_earliest : from then on a single reading may be outside
    is_sure : the drift is more than scatter
    is_news : sure, signalled by the chart, no mere step, and due within `HORIZON`
    """

    since: datetime
    per_day: float
    per_day_lower: float
    per_day_upper: float
    level: float
    limit: float | None
    crossing: datetime | None
    earliest: datetime | None
    latest: datetime | None
    reading_earliest: datetime | None
    is_sure: bool
    is_news: bool


def prospect(
    points: Sequence[Point], tolerance: Tolerance, seen: Watch, now: datetime
) -> Prospect | None:
    """Tell where the level of a segment drifts.

    Parameters
    ----------
    points : the readings of the segment in order
    seen : what its chart shows

    Returns
    -------
    None where there is no tolerance to leave, or too few readings to lay a line through.
    """
    if not tolerance.is_set:
        return None
    start = 0 if seen.since is None else max(0, seen.since - LEAD_IN)
    used = list(points[start:])[-MOST_READINGS:]
    if len(used) < FEWEST_READINGS:
        used = list(points[-FEWEST_READINGS:])
    origin = used[0].when
    try:
        found = forecast_crossing(
            [(point.when - origin) / _DAY for point in used],
            [point.value for point in used],
            lower=tolerance.lower,
            upper=tolerance.upper,
            confidence=CONFIDENCE,
        )
    except MeasureError:
        return None  # too few readings, or all of one moment
    crossing = _moment(origin, found.crossing)
    limits = {"lower": tolerance.lower, "upper": tolerance.upper, None: None}
    return Prospect(
        since=origin,
        per_day=found.slope,
        per_day_lower=found.slope_lower,
        per_day_upper=found.slope_upper,
        level=found.level,
        limit=limits[found.side],
        crossing=crossing,
        earliest=_moment(origin, found.earliest),
        latest=_moment(origin, found.latest),
        reading_earliest=_moment(origin, found.reading_earliest),
        is_sure=found.is_drifting,
        is_news=_is_near(crossing, points[-1].when, now)
        and _is_towards(found, seen)
        and (_is_past(found, tolerance) or _is_ramp(points, seen)),
    )


def _is_near(crossing: datetime | None, last: datetime, now: datetime) -> bool:
    return crossing is not None and now - last <= REST and crossing - last <= HORIZON


def _is_towards(found: Forecast, seen: Watch) -> bool:
    """Whether the level is off, and on its way further off rather than back."""
    return found.is_drifting and seen.is_off and (found.slope > 0) == (seen.side > 0)


def _is_past(found: Forecast, tolerance: Tolerance) -> bool:
    low, high = tolerance.lower, tolerance.upper
    return (high is not None and found.level > high) or (low is not None and found.level < low)


def _is_ramp(points: Sequence[Point], seen: Watch) -> bool:
    """Whether the readings that left fit a ramp from the old level better than a step off it."""
    if not seen.since:
        return False
    began = points[seen.since - 1].when
    off = [
        ((point.when - began) / _DAY, point.value - seen.level) for point in points[seen.since :]
    ]
    step = fmean(value for _, value in off)
    squares = sum(days * days for days, _ in off)
    ramp = sum(days * value for days, value in off) / squares if squares else 0.0
    return sum((value - ramp * days) ** 2 for days, value in off) < sum(
        (value - step) ** 2 for _, value in off
    )


def _moment(origin: datetime, days: float | None) -> datetime | None:
    try:
        return None if days is None else origin + timedelta(days=days)
    except OverflowError:
        return None  # beyond the calendar is never
