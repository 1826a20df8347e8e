"""Individuals and moving-range chart: where single readings of a steady process should lie.

Units    those of the readings; indices count from 0.
Shapes   one axis, one entry a reading, in the order in which they were made.
Sources  [NIST] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; [ISO] ISO 7870-2 (from
         memory), whose printed factors are used.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.arguments import Range, numbers

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

READING: Final = Range(at_least=-1e100, at_most=1e100)
"""What the charts take: beyond this the squares of a sum would overflow."""

D2: Final = 1.128
"""Mean range of two readings in standard deviations, as tables print it (2/sqrt(pi))."""

D4: Final = 3.267
"""Upper limit of the range of two readings over its mean, as tables print it."""

WIDTH: Final = 3.0
"""Control limits lie this many standard deviations from the centre."""


@dataclass(frozen=True)
class IndividualsChart:
    """Limits found from a base period, and what lies outside them.

    Attributes
    ----------
    centre, lower, upper : centre line and control limits, unit of the readings
    sigma : standard deviation from one reading to the next, unit of the readings
    range_centre, range_upper : mean moving range and its upper limit, unit of the readings
    outside : indices of the readings beyond their limits
    range_outside : indices of the readings whose step from the one before is beyond its limit
    """

    centre: float
    sigma: float
    lower: float
    upper: float
    range_centre: float
    range_upper: float
    outside: tuple[int, ...]
    range_outside: tuple[int, ...]


def individuals(values: Series) -> IndividualsChart:
    """Limits for single readings, from the steps between neighbours.

    Parameters
    ----------
    values : readings of a base period, in time order, any unit, shape (n,), n at least 2

    Returns
    -------
    Chart in the unit of `values`. Readings that are all alike give limits of no width.

    Raises
    ------
    MeasureError : fewer than 2 readings, or one that is not finite

    Notes
    -----
    sigma = mean moving range / 1.128, limits = mean ± 3 sigma, range limit = 3.267 × mean moving
    range, [NIST]. A slow drift hardly enters the steps, and so it shows against these limits.

    Examples
    --------
    >>> chart = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.lower, 4), round(chart.centre, 4), round(chart.upper, 4)
    (45.8159, 50.81, 55.8041)
    >>> chart.outside
    ()
    """
    readings = numbers(values, "values", READING, fewest=2)
    # Rounding can carry the mean of equal readings past them, and then all would be outside.
    centre = min(max(fmean(readings), min(readings)), max(readings))
    steps = moving_ranges(readings)
    range_centre = fmean(steps)
    sigma = range_centre / D2
    lower, upper = centre - WIDTH * sigma, centre + WIDTH * sigma
    range_upper = D4 * range_centre
    return IndividualsChart(
        centre=centre,
        sigma=sigma,
        lower=lower,
        upper=upper,
        range_centre=range_centre,
        range_upper=range_upper,
        outside=tuple(i for i, value in enumerate(readings) if not lower <= value <= upper),
        range_outside=tuple(i for i, step in enumerate(steps, start=1) if step > range_upper),
    )


def moving_ranges(readings: list[float]) -> list[float]:
    """Measure the step from each reading to the next.

    Parameters
    ----------
    readings : in time order, any unit, shape (n,); already checked

    Returns
    -------
    Sizes of the steps, unit of `readings`, shape (n - 1,).

    Raises
    ------
    Nothing: `readings` come from a function that has checked them.

    Notes
    -----
    Source: [NIST].

    Examples
    --------
    >>> moving_ranges([1.0, 3.0, 2.0])
    [2.0, 1.0]
    """
    return [abs(after - before) for before, after in pairwise(readings)]
