"""A straight line through readings that a few wild ones cannot pull away.

Units    slope in the unit of the values over that of the times.
Shapes   one axis, one entry a reading; times may repeat and need not be sorted.
Sources  [T50] Theil, Indagationes Mathematicae 12, 1950: median of the slopes of all pairs; [S68]
         Sen, J. American Statistical Association 63, 1968: its interval, ties included; [HL63]
         Hodges, Lehmann, Annals of Mathematical Statistics 34, 1963: the level; [L63] Lehmann,
         same volume: scale from the length of such an interval (all from memory).
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement
from statistics import NormalDist, fmean, median
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.arguments import numbers, same_length
from gatekeeper.measures.distributions import probability
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import READING

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

FEWEST_READINGS: Final = 5
"""With fewer, no interval for the slope reaches a confidence of 95 % at all, [S68]."""

MOST_READINGS: Final = 2000
"""Every pair is looked at: two million here, about a second."""

# The interval whose length gives the scale. By simulation with 6 to 60 readings, with and without
# wild ones, 90 % keeps the stated coverage best.
_SCALE_CONFIDENCE: Final = 0.90


@dataclass(frozen=True)
class RobustLine:
    """The line level + slope × (time - mean_time).

    Attributes
    ----------
    slope : unit of the values over that of the times
    slope_lower, slope_upper : distribution-free confidence bounds of the slope
    level : height at the mean time, unit of the values
    mean_time, last_time : mean and latest of the times
    time_spread : root of the sum of squared deviations of the times from their mean
    scale : scatter about the line, unit of the values: divided by the root of the number of
        readings the standard error of `level`, divided by `time_spread` that of `slope`
    readings : number of readings
    """

    slope: float
    slope_lower: float
    slope_upper: float
    level: float
    mean_time: float
    last_time: float
    time_spread: float
    scale: float
    readings: int

    def at(self, time: float) -> float:
        """Height of the line at a time, unit of the values."""
        return self.level + self.slope * (time - self.mean_time)


def robust_line(times: Series, values: Series, *, confidence: float = 0.95) -> RobustLine:
    """Straight line by the median of all pairwise slopes.

    Parameters
    ----------
    times : when each reading was made, any unit, shape (n,), n from 5 to 2000
    values : readings, any unit, shape (n,)
    confidence : of the bounds of the slope, fraction

    Returns
    -------
    Line with the bounds of its slope. Up to 29 % wild readings cannot carry it away.

    Raises
    ------
    MeasureError : too few or too many readings, two lengths that differ, fewer than 3 different
        times, or a number that is not finite

    Notes
    -----
    Slope: median of (y_j - y_i) / (t_j - t_i) over all pairs of different times, [T50]; bounds: the
    slopes at the ranks that Kendall's statistic gives in normal approximation, [S68]; level:
    median of the means of all pairs of what is left without the slope, [HL63]; scale: length of
    the 90 % interval of the slope over twice its normal quantile, times `time_spread`, [L63].

    Examples
    --------
    >>> line = robust_line([0, 1, 2, 3, 4, 5], [50.0, 50.1, 50.2, 57.0, 50.4, 50.5])
    >>> round(line.slope, 3), round(line.at(10), 3)
    (0.1, 51.0)
    """
    when = numbers(times, "times", READING, fewest=FEWEST_READINGS)
    readings = numbers(values, "values", READING)
    same_length("times", when, "values", readings)
    confidence = probability(confidence, "confidence")
    _require_usable(when)
    slopes = sorted(
        (later_value - value) / (later - time)
        for (time, value), (later, later_value) in combinations(zip(when, readings, strict=True), 2)
        if later != time
    )
    if not all(map(math.isfinite, (slopes[0], slopes[-1]))):
        raise MeasureError("times", "are too near each other for a slope to be told")
    slope, mean_time = median(slopes), fmean(when)
    flat = [y - slope * (t - mean_time) for t, y in zip(when, readings, strict=True)]
    time_spread = math.hypot(*(time - mean_time for time in when))
    lower, upper = _slope_bounds(slopes, when, confidence)
    narrow, wide = _slope_bounds(slopes, when, _SCALE_CONFIDENCE)
    quantile = NormalDist().inv_cdf((1 + _SCALE_CONFIDENCE) / 2)
    return RobustLine(
        slope=slope,
        slope_lower=lower,
        slope_upper=upper,
        level=median((a + b) / 2 for a, b in combinations_with_replacement(flat, 2)),
        mean_time=mean_time,
        last_time=max(when),
        time_spread=time_spread,
        scale=(wide - narrow) / (2 * quantile) * time_spread,
        readings=len(readings),
    )


def _require_usable(times: list[float]) -> None:
    if len(times) > MOST_READINGS:
        raise MeasureError(
            "times", f"has {len(times)} entries; take the latest {MOST_READINGS} or fewer"
        )
    different = len(set(times))
    if different < 3:  # noqa: PLR2004 - two times always lie on a line
        raise MeasureError("times", f"has {different} different entries but needs at least 3")


def _slope_bounds(
    slopes: list[float], times: list[float], confidence: float
) -> tuple[float, float]:
    """Slopes at the ranks of Kendall's statistic; equal times make it vary less, [S68]."""
    n, ties = len(times), Counter(times).values()
    variance = n * (n - 1) * (2 * n + 5) - sum(tie * (tie - 1) * (2 * tie + 5) for tie in ties)
    reach = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(variance / 18)
    lower = max(round((len(slopes) - reach) / 2) - 1, 0)
    upper = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return slopes[lower], slopes[upper]
