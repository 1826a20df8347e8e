"""When a drifting level is expected to leave its tolerance, and whether that is worth saying.

Units    times are moments; slopes in the unit of the readings a day.
Method   two lines. One through the readings since the level began to leave, and `LEAD_IN` before,
         says whether there is a drift. When it arrives, the readings behind the first `LEFT_OUT` of
         them say by themselves: those before lie on the old level and make the slope too small, and
         those on which the alarm rests are chosen for being far out, which would make it too large.
Sources  lines and bounds as in `measures.forecast`; that what chose a question must not answer it
         alone is Cox, Biometrika 62, 1975 (data splitting, from memory). A level that has jumped
         and stays is no drift: what is foretold must fit a ramp better than a step. The rule is
         ours.
Coverage of 20,000 simulated rooms, one evening each, whose level drifts 0.05 to 0.3 points a day
         from some day before the 15th, with a scatter of 0.25 to 0.6 points and 2 to 5 films a day:
         where a drift was told, bounds stated as 95 % held the true day in 95.4 % (standard error
         0.3), and those open on one side in 99.7 %. One line for both questions gave 93 %. Scatter
         is taken as independent from film to film: correlated by 0.3 the bounds held it in 88 %
         (standard error 1.0), by 0.5 in 79 % (1.3).
Pure     no file, no clock: the present moment is handed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean
from typing import TYPE_CHECKING, Final, NamedTuple

from gatekeeper.measures.chart import forecast_crossing
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.robust_line import FEWEST_READINGS, MOST_READINGS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.control.series import Point, Tolerance
    from gatekeeper.control.watch import Watch
    from gatekeeper.measures.forecast import Forecast

LEAD_IN: Final = 5
"""Readings before the level began to leave that the line takes in which says whether it drifts."""

LEFT_OUT: Final = 3
"""Readings since then that the line leaves out which says when it arrives."""

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
    is_sure : the drift is more than scatter; the bounds of its slope may still hold 0, as they are
        those of the line that leaves readings out
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
    try:
        drift = _line(points[min(start, len(points) - FEWEST_READINGS) :], tolerance)
    except MeasureError:
        return None  # too few readings, or all of one moment
    arrival = drift if seen.since is None else _arrival(points[seen.since + LEFT_OUT :], tolerance)
    is_told = arrival is not None and arrival.found.side == drift.found.side
    line = arrival if arrival is not None and is_told else drift
    found = line.found
    crossing = line.moment(found.crossing)
    limits = {"lower": tolerance.lower, "upper": tolerance.upper, None: None}
    return Prospect(
        since=line.origin,
        per_day=found.slope,
        per_day_lower=found.slope_lower,
        per_day_upper=found.slope_upper,
        level=found.level,
        limit=limits[found.side],
        crossing=crossing,
        earliest=line.moment(found.earliest) if is_told else None,
        latest=line.moment(found.latest) if is_told else None,
        reading_earliest=line.moment(found.reading_earliest) if is_told else None,
        is_sure=drift.found.is_drifting,
        is_news=_is_near(drift.moment(drift.found.crossing), points[-1].when, now)
        and _is_towards(drift.found, seen)
        and (_is_past(drift.found, tolerance) or _is_ramp(points, seen)),
    )


class _Line(NamedTuple):
    """A line through readings, whose times count in days from the first of them."""

    origin: datetime
    found: Forecast

    def moment(self, days: float | None) -> datetime | None:
        """Return a time of the line as a moment; one beyond the calendar is never."""
        try:
            return None if days is None else self.origin + timedelta(days=days)
        except OverflowError:
            return None


def _line(points: Sequence[Point], tolerance: Tolerance) -> _Line:
    used = points[-MOST_READINGS:]
    origin = used[0].when
    found = forecast_crossing(
        [(point.when - origin) / _DAY for point in used],
        [point.value for point in used],
        lower=tolerance.lower,
        upper=tolerance.upper,
        confidence=CONFIDENCE,
    )
    return _Line(origin, found)


def _arrival(points: Sequence[Point], tolerance: Tolerance) -> _Line | None:
    """Return the line that says when the level arrives, None while there are too few readings."""
    try:
        return _line(points, tolerance) if points else None
    except MeasureError:
        return None


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
