"""Capability: how well readings of a steady process fit between their limits.

Units    `lower` and `upper` in the unit of the readings; the indices are dimensionless.
Shapes   one axis, one entry a reading, in the order in which they were made.
Sources  [NIST] NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6: the indices; [B90] Bissell,
         Applied Statistics 39, 1990: bounds of Cpk; [CR90] Cryer, Ryan, J. Quality Technology 22,
         1990: variance of the mean moving range; [D58] Duncan, Quality Control and Industrial
         Statistics: ranges as a chi variable (the last three from memory, then simulated).
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.arguments import numbers
from gatekeeper.measures.distributions import chi_square_quantile, probability
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import D2, READING, moving_ranges
from gatekeeper.measures.tolerance import tolerance

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series
    from gatekeeper.measures.tolerance import Tolerance

# Of the range of two normal readings, in variances of one reading: its variance (d3 squared), and
# its covariance with the next range, which shares one of the readings, [CR90].
_RANGE_VARIANCE: Final = 2 - 4 / math.pi
_RANGE_COVARIANCE: Final = 4 / math.pi * (math.pi / 12 + math.sqrt(3) / 2 - 1)
# Rounding leaves about this of the largest number where a standard deviation should be 0.
_NO_SPREAD: Final = 1e-12


@dataclass(frozen=True)
class Bounds:
    """Lower and upper confidence bound of one index."""

    lower: float
    upper: float


@dataclass(frozen=True)
class Capability:
    """Capability indices with two-sided confidence bounds.

    Attributes
    ----------
    cp, cpk : from the standard deviation of neighbours: what the process could do
    pp, ppk : from the standard deviation of all readings: what it did
    cp_bounds, cpk_bounds, pp_bounds, ppk_bounds : their confidence bounds
    mean, within_sd, overall_sd : of the readings, in their unit
    confidence : of the bounds, fraction

    `cp` and `pp` compare with the width between two limits and are None where one is missing.
    """

    cp: float | None
    cpk: float
    pp: float | None
    ppk: float
    cp_bounds: Bounds | None
    cpk_bounds: Bounds
    pp_bounds: Bounds | None
    ppk_bounds: Bounds
    mean: float
    within_sd: float
    overall_sd: float
    confidence: float


def capability(
    values: Series, *, lower: float | None, upper: float | None, confidence: float = 0.95
) -> Capability:
    """Compare the spread of readings with the limits they have to keep.

    Parameters
    ----------
    values : readings in time order, any unit, shape (n,), n at least 2
    lower, upper : limits that the readings have to keep, unit of `values`; None where there is none
    confidence : of the bounds, fraction

    Returns
    -------
    Indices, dimensionless, with bounds. Few readings give wide bounds, and those are the message.

    Raises
    ------
    MeasureError : no limit, limits that do not rise, fewer than 2 readings, readings that hardly
        differ, or an argument that is not finite

    Notes
    -----
    Cp = (upper - lower) / (6 s), Cpk = distance of the mean from the nearer limit / (3 s), [NIST];
    s is the mean moving range / 1.128 for Cp and Cpk, the standard deviation for Pp and Ppk.
    Bounds of Pp by chi-square with n - 1 degrees of freedom; of Cp by chi-square with the degrees
    of freedom that the mean moving range is worth, [D58]; of Cpk and Ppk index ± z sqrt(1/(9 n) +
    index^2 / (2 df)), [B90]. Normal, independent readings are assumed throughout.

    Examples
    --------
    >>> result = capability([49.6, 50.4, 50.1, 49.9, 50.6, 49.4], lower=48, upper=52)
    >>> round(result.cp, 2), round(result.pp, 2), round(result.ppk, 2)
    (1.17, 1.45, 1.45)
    >>> round(result.pp_bounds.lower, 2), round(result.pp_bounds.upper, 2)
    (0.59, 2.32)
    """
    readings = numbers(values, "values", READING, fewest=2)
    limits = tolerance(lower, upper)
    confidence = probability(confidence, "confidence")
    mean, overall_sd = fmean(readings), stdev(readings)
    within_sd = fmean(moving_ranges(readings)) / D2
    sizes = map(abs, (*readings, limits.lower, limits.upper))
    if min(overall_sd, within_sd) <= _NO_SPREAD * max(filter(math.isfinite, sizes)):
        raise MeasureError("values", "hardly differ, so that no capability can be told from them")
    df = len(readings) - 1
    within_df, within_scale = _worth_of_moving_ranges(len(readings))
    cp, cpk = _indices(mean, within_sd, limits)
    pp, ppk = _indices(mean, overall_sd, limits)
    return Capability(
        cp=cp,
        cpk=cpk,
        pp=pp,
        ppk=ppk,
        cp_bounds=None if cp is None else _spread_bounds(cp * within_scale, within_df, confidence),
        cpk_bounds=_distance_bounds(cpk, len(readings), within_df, confidence),
        pp_bounds=None if pp is None else _spread_bounds(pp, df, confidence),
        ppk_bounds=_distance_bounds(ppk, len(readings), df, confidence),
        mean=mean,
        within_sd=within_sd,
        overall_sd=overall_sd,
        confidence=confidence,
    )


def _indices(mean: float, sd: float, limits: Tolerance) -> tuple[float | None, float]:
    nearer = min(mean - limits.lower, limits.upper - mean) / (3 * sd)
    return (limits.upper - limits.lower) / (6 * sd) if limits.is_two_sided else None, nearer


def _worth_of_moving_ranges(readings: int) -> tuple[float, float]:
    """Degrees of freedom of the mean moving range, and the factor from mean to mean square, [D58].

    The ranges overlap, so their mean is worth fewer degrees of freedom than there are ranges.
    """
    ranges = readings - 1
    variance = ranges * _RANGE_VARIANCE + 2 * (ranges - 1) * _RANGE_COVARIANCE
    relative = variance / ranges**2 / (4 / math.pi)
    return 1 / (2 * math.sqrt(1 + 2 * relative) - 2), math.sqrt(1 + relative)


def _spread_bounds(index: float, df: float, confidence: float) -> Bounds:
    tail = (1 - confidence) / 2
    return Bounds(
        index * math.sqrt(chi_square_quantile(tail, df) / df),
        index * math.sqrt(chi_square_quantile(1 - tail, df) / df),
    )


def _distance_bounds(index: float, readings: int, df: float, confidence: float) -> Bounds:
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    reach = z * math.sqrt(1 / (9 * readings) + index**2 / (2 * df))
    return Bounds(index - reach, index + reach)
