"""When a drifting level will leave its tolerance.

Units    times in one unit, values and limits in another; slopes in the second over the first.
Shapes   one axis, one entry a reading; times may repeat and need not be sorted.
Sources  the line and its scale as in `robust_line`; [F54] Fieller, J. Royal Statistical Society
         B 16, 1954 (from memory): bounds of a ratio, here of distance over slope.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.

A forecast holds while the drift goes on as it has: a new curve, film lot or head starts afresh.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gatekeeper.measures.distributions import t_quantile
from gatekeeper.measures.robust_line import robust_line
from gatekeeper.measures.tolerance import tolerance

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series
    from gatekeeper.measures.robust_line import RobustLine
    from gatekeeper.measures.tolerance import Tolerance


@dataclass(frozen=True)
class Forecast:
    """Where a level drifts, and when it crosses the limit that lies that way.

    Attributes
    ----------
    slope, slope_lower, slope_upper : drift and its confidence bounds, unit of the values over
        that of the times
    level : height of the line at the latest time, unit of the values
    side : limit that the level drifts towards; None where there is no limit that way, or no drift
    crossing : time at which the line crosses that limit; in the past if it has
    earliest, latest : confidence bounds of that time. `latest` None: it may never cross.
        `earliest` None: it may have crossed already, however early
    reading_earliest : from then on a single reading may lie beyond the limit, though the level
        does not yet; None as for `earliest`
    confidence : of all bounds, fraction

    All times count as `times` do; all four are None when `side` is.
    """

    slope: float
    slope_lower: float
    slope_upper: float
    level: float
    side: Literal["lower", "upper"] | None
    crossing: float | None
    earliest: float | None
    latest: float | None
    reading_earliest: float | None
    confidence: float

    @property
    def is_drifting(self) -> bool:
        """The bounds of the slope leave out 0: there is more than scatter to speak of."""
        return self.slope_lower > 0 or self.slope_upper < 0


def forecast_crossing(
    times: Series,
    values: Series,
    *,
    lower: float | None,
    upper: float | None,
    confidence: float = 0.95,
) -> Forecast:
    """Tell when the level of drifting readings will cross a limit, and how surely.

    Parameters
    ----------
    times : when each reading was made, any unit, shape (n,), n from 5 to 2000
    values : readings, any unit, shape (n,)
    lower, upper : limits, unit of `values`; None where there is none
    confidence : of the bounds, fraction

    Returns
    -------
    Drift, expected time of crossing and its bounds.

    Raises
    ------
    MeasureError : too few or too many readings, two lengths that differ, fewer than 3 different
        times, no limit, limits that do not rise, or a number that is not finite

    Notes
    -----
    The line is that of `robust_line`, so wild readings do not carry it away. The bounds are the
    times at which the limit enters and leaves the confidence band of the line, level ± q × scale
    × sqrt(1/n + (time - mean)^2 / spread^2), [F54], q the t quantile with n - 2 degrees of
    freedom; for a single reading the root holds 1 more. Independent scatter is assumed.

    Examples
    --------
    >>> days = [0, 1, 2, 3, 4, 5, 6, 7]
    >>> tint = [50.0, 50.3, 50.3, 50.5, 50.8, 50.8, 51.1, 51.2]
    >>> forecast = forecast_crossing(days, tint, lower=48, upper=52)
    >>> forecast.side, round(forecast.crossing, 1), forecast.is_drifting
    ('upper', 11.7, True)
    >>> round(forecast.earliest, 1), round(forecast.latest, 1)
    (10.1, 14.1)
    """
    limits = tolerance(lower, upper)
    line = robust_line(times, values, confidence=confidence)
    reach = t_quantile((1 + confidence) / 2, line.readings - 2) * line.scale
    slope_reach = reach / line.time_spread
    side, limit = _limit_ahead(line.slope, limits)
    crossing = None
    level_bounds: _Span = (None, None)
    reading_bounds: _Span = (None, None)
    if side is not None:
        band = _Band(line, limit, reach)
        crossing = _finite(line.mean_time + (limit - line.level) / line.slope)
        level_bounds = band.holds_limit(1 / line.readings)
        reading_bounds = band.holds_limit(1 + 1 / line.readings)
    return Forecast(
        slope=line.slope,
        slope_lower=line.slope - slope_reach,
        slope_upper=line.slope + slope_reach,
        level=line.at(line.last_time),
        side=side,
        crossing=crossing,
        earliest=level_bounds[0],
        latest=level_bounds[1],
        reading_earliest=reading_bounds[0],
        confidence=confidence,
    )


_Span = tuple[float | None, float | None]


def _limit_ahead(slope: float, limits: Tolerance) -> tuple[Literal["lower", "upper"] | None, float]:
    if slope > 0 and math.isfinite(limits.upper):
        return "upper", limits.upper
    if slope < 0 and math.isfinite(limits.lower):
        return "lower", limits.lower
    return None, math.nan


@dataclass(frozen=True)
class _Band:
    """The confidence band of a line, and a limit that it meets."""

    line: RobustLine
    limit: float
    reach: float

    def holds_limit(self, level_variance: float) -> _Span:
        """From when to when the limit lies within the band; None where it does so for ever.

        With v the time from the mean in spreads, the limit lies on the band's edge where
        (distance + rise v)^2 = reach^2 (level_variance + v^2), a quadratic equation in v.
        """
        rise = self.line.slope * self.line.time_spread
        distance = self.line.level - self.limit
        # Measured by the largest of the three, no square can overflow.
        unit = max(abs(rise), abs(distance), self.reach, sys.float_info.min)
        rise, distance, reach = rise / unit, distance / unit, self.reach / unit
        squared = (rise - reach) * (rise + reach)
        constant = distance**2 - reach**2 * level_variance
        if squared <= 0 and constant <= 0:
            return None, None
        half = abs(rise * distance)
        root = math.sqrt(max(0.0, half**2 - squared * constant))
        is_ahead = (self.line.level < self.limit) == (self.line.slope > 0)
        pivot = half + root if is_ahead else -half - root
        near = constant / pivot if pivot else 0.0
        if squared > 0:
            far = pivot / squared
            return self._time(min(near, far)), self._time(max(near, far))
        if not pivot:
            return None, None
        # No drift is sure. What is ahead of the level is reached at the earliest then, or never;
        # what is behind it was passed at the latest then.
        return (self._time(near), None) if is_ahead else (None, self._time(near))

    def _time(self, spreads: float) -> float | None:
        return _finite(self.line.mean_time + spreads * self.line.time_spread)


def _finite(time: float) -> float | None:
    """Drop a time so far away that no number holds it."""
    return time if math.isfinite(time) else None
