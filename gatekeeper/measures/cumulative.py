"""Charts with a memory, which find a small lasting shift sooner than single readings do.

Units    those of the readings; `lam`, `width`, `k` and `h` are dimensionless.
Shapes   one axis, one entry a reading, in the order in which they were made.
Sources  [LS90] Lucas, Saccucci, Technometrics 32, 1990: weighted moving average; [P54] Page,
         Biometrika 41, 1954 (both from memory): cumulative sum; [NIST] NIST/SEMATECH e-Handbook
         of Statistical Methods, 6.3.2.3 and 6.3.2.4; [M] Montgomery, Introduction to Statistical
         Quality Control, 9.1 (tabular form).
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import Range, number, numbers
from gatekeeper.measures.shewhart import READING

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

_SIGMA = Range(above=0.0, at_most=1e100)
_MULTIPLE = Range(above=0.0, at_most=1e6)
_SHARE = Range(above=0.0, at_most=1.0)


@dataclass(frozen=True)
class Ewma:
    """Exponentially weighted moving average with its limits; one entry a reading.

    Attributes
    ----------
    values, lower, upper : average and its control limits, unit of the readings, shape (n,)
    signals : indices at which the average is beyond a limit
    """

    values: tuple[float, ...]
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    signals: tuple[int, ...]


def ewma(
    values: Series,
    *,
    target: float,
    sigma: float,
    lam: float,
    width: float,
    widening: bool = True,
) -> Ewma:
    """Exponentially weighted moving average, started at the target.

    Parameters
    ----------
    values : readings in time order, any unit, shape (n,)
    target : level aimed at, unit of `values`
    sigma : standard deviation of one reading, unit of `values`, above 0
    lam : weight of the newest reading, above 0, at most 1 (1 is a chart of single readings)
    width : distance of the limits in standard deviations of the average, above 0
    widening : limits that start narrow and widen to their final place, as the average itself
        does; False: the final place from the start

    Returns
    -------
    Average, limits and signals. Going on after a signal does not start the average again.

    Raises
    ------
    MeasureError : an argument is not finite or out of range

    Notes
    -----
    z_i = lam x_i + (1 - lam) z_(i-1), z_0 = target; limits target ± width × sigma ×
    sqrt(lam / (2 - lam) × (1 - (1 - lam)^(2 i))), the last factor only when widening, [LS90],
    [NIST].

    Examples
    --------
    >>> chart = ewma([52.0, 47.0, 53.0], target=50, sigma=2.0539, lam=0.3, width=3)
    >>> [round(value, 2) for value in chart.values]
    [50.6, 49.52, 50.56]
    >>> [round(limit, 2) for limit in chart.upper]
    [51.85, 52.26, 52.43]
    """
    readings = numbers(values, "values", READING)
    target, sigma = number(target, "target", READING), number(sigma, "sigma", _SIGMA)
    lam, width = number(lam, "lam", _SHARE), number(width, "width", _MULTIPLE)
    final = width * sigma * math.sqrt(lam / (2 - lam))
    averages, reaches, average = [], [], target
    for count, value in enumerate(readings, start=1):
        average = lam * value + (1 - lam) * average
        averages.append(average)
        reaches.append(final * math.sqrt(1 - (1 - lam) ** (2 * count)) if widening else final)
    lower = tuple(target - reach for reach in reaches)
    upper = tuple(target + reach for reach in reaches)
    beyond = (
        i
        for i, (low, value, high) in enumerate(zip(lower, averages, upper, strict=True))
        if not low <= value <= high
    )
    return Ewma(values=tuple(averages), lower=lower, upper=upper, signals=tuple(beyond))


@dataclass(frozen=True)
class Cusum:
    """Cumulative sums of what exceeds the allowance, above and below; one entry a reading.

    Attributes
    ----------
    upper, lower : sum of the excess above, and below, the target; unit of the readings, at
        least 0, shape (n,)
    upper_since, lower_since : how many readings in a row each sum has been above 0, shape (n,);
        at a signal this dates the shift
    limit : sum beyond which there is a signal, unit of the readings
    signals : indices at which a sum is beyond the limit
    """

    upper: tuple[float, ...]
    lower: tuple[float, ...]
    upper_since: tuple[int, ...]
    lower_since: tuple[int, ...]
    limit: float
    signals: tuple[int, ...]


def cusum(values: Series, *, target: float, sigma: float, k: float, h: float) -> Cusum:
    """Tabular cumulative sum, two-sided, started at 0.

    Parameters
    ----------
    values : readings in time order, any unit, shape (n,)
    target : level aimed at, unit of `values`
    sigma : standard deviation of one reading, unit of `values`, above 0
    k : allowance in sigmas, at least 0; half the shift to be found
    h : limit of the sums in sigmas, above 0

    Returns
    -------
    Sums in the unit of `values`, and signals. Going on after a signal does not start a sum again.

    Raises
    ------
    MeasureError : an argument is not finite or out of range

    Notes
    -----
    C+_i = max(0, x_i - (target + k sigma) + C+_(i-1)); C-_i likewise downwards; signal beyond
    h sigma, [P54], [M].

    Examples
    --------
    >>> chart = cusum([10.9, 9.33, 12.29, 11.5], target=10, sigma=1, k=0.5, h=2.5)
    >>> [round(value, 2) for value in chart.upper]
    [0.4, 0.0, 1.79, 2.79]
    >>> chart.signals, chart.upper_since
    ((3,), (1, 0, 1, 2))
    """
    readings = numbers(values, "values", READING)
    target, sigma = number(target, "target", READING), number(sigma, "sigma", _SIGMA)
    k = number(k, "k", Range(at_least=0.0, at_most=_MULTIPLE.at_most))
    limit = number(h, "h", _MULTIPLE) * sigma
    upper = _excess([value - (target + k * sigma) for value in readings])
    lower = _excess([(target - k * sigma) - value for value in readings])
    return Cusum(
        upper=upper,
        lower=lower,
        upper_since=_positive_so_far(upper),
        lower_since=_positive_so_far(lower),
        limit=limit,
        signals=tuple(
            i for i, sums in enumerate(zip(upper, lower, strict=True)) if max(sums) > limit
        ),
    )


def _excess(excesses: list[float]) -> tuple[float, ...]:
    total, sums = 0.0, []
    for excess in excesses:
        total = max(0.0, total + excess)
        sums.append(total)
    return tuple(sums)


def _positive_so_far(sums: tuple[float, ...]) -> tuple[int, ...]:
    """For each sum, how many in a row up to it are above 0."""
    run, runs = 0, []
    for total in sums:
        run = run + 1 if total > 0 else 0
        runs.append(run)
    return tuple(runs)
