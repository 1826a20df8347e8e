"""What the patches of one film say together: spread, range, and whether a wedge rises.

Units    densities: log10 units; tints and dot areas: percent. `spread` keeps the unit it is given.
Shapes   one axis, one entry a patch, in the order read.
Sources  definitions; that the lowest solid and the darkest clear spot decide is common practice.
Errors   `MeasureError`, naming the argument and the first offending index.

A slope across the width is told apart from scatter by `regression.straight_line`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import Range, numbers, same_length
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

PERCENT = Range(at_least=0.0, at_most=100.0, hint="a tint in percent")


def spread(values: Series) -> float:
    """Difference between the highest and the lowest of several readings.

    Parameters
    ----------
    values : readings of one thing at several spots; one axis, at least two entries

    Returns
    -------
    Spread, in the unit of `values`, at least 0.

    Raises
    ------
    MeasureError : a value is not finite, or there are fewer than two: one spot shows no spread,
        which is not the same as having none

    Notes
    -----
    Highest less lowest, definition.

    Examples
    --------
    >>> round(spread([2.91, 2.88, 2.90]), 2)
    0.03
    """
    read = numbers(values, "values", fewest=2)
    return max(read) - min(read)


def density_range(solids: Series, clears: Series) -> float:
    """Density range of a negative: its weakest solid less its darkest clear film.

    Parameters
    ----------
    solids : densities of the solid spots; one axis, at least one entry
    clears : densities of the clear spots, read with the same zero; likewise

    Returns
    -------
    Density, log10 units. Below 0 the two were mixed up.

    Raises
    ------
    MeasureError : a density is not finite, or an axis is empty

    Notes
    -----
    Lowest solid less highest clear spot: the worst place decides, common practice.

    Examples
    --------
    >>> round(density_range([2.91, 2.88], [0.04, 0.05]), 2)
    2.83
    """
    lowest = min(numbers(solids, "solids", fewest=1))
    return lowest - max(numbers(clears, "clears", fewest=1))


def not_rising(nominal_percent: Series, measured_percent: Series) -> list[int]:
    """Find the steps of a wedge that do not read above the step before.

    Parameters
    ----------
    nominal_percent : tints as sent, percent, 0 to 100, no two alike; one axis, at least two
        entries in any order
    measured_percent : printing dot of the same patches, percent; one axis of the same length

    Returns
    -------
    Indices of the patches that read no higher than the patch with the next lower nominal, in
    the order of their nominals; empty when the wedge rises all the way.

    Raises
    ------
    MeasureError : a number is not finite, a nominal is outside 0 to 100 or stands there twice,
        the axes differ in length, or there are fewer than two steps

    Notes
    -----
    A step that falls or stays cannot be undone by any curve; common practice. Repeated patches
    of one nominal are to be averaged first.

    Examples
    --------
    >>> not_rising([25, 50, 75], [27.0, 26.0, 80.0])
    [1]
    """
    nominal = numbers(nominal_percent, "nominal_percent", PERCENT, fewest=2)
    measured = numbers(measured_percent, "measured_percent")
    same_length("nominal_percent", nominal, "measured_percent", measured)
    order = sorted(range(len(nominal)), key=nominal.__getitem__)
    steps = list(pairwise(order))
    for before, after in steps:
        if nominal[before] == nominal[after]:
            problem = f"is {nominal[after]!r} for the second time; average repeated patches first"
            raise MeasureError("nominal_percent", problem, after)
    return [after for before, after in steps if measured[after] <= measured[before]]
