"""Tails and quantiles of the t, chi-square and F distributions, for tests and confidence bounds.

Units    all dimensionless; probabilities are fractions; degrees of freedom need not be whole.
Shapes   scalars.
Sources  [DLMF] NIST Digital Library of Mathematical Functions, 8.11 and 8.17 (from memory).
Errors   `MeasureError`, naming the argument. No NaN in or out.
Exact to about eight digits at a million degrees of freedom, twelve at a hundred.

The normal distribution is in the standard library: `statistics.NormalDist`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import Range, number
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.incomplete import incomplete_beta, incomplete_gamma

if TYPE_CHECKING:
    from collections.abc import Callable

# Beyond a million the fractions converge slowly, and the normal distribution serves as well.
_DEGREES = Range(at_least=0.01, at_most=1e6)
_LARGEST = 1e100
_STATISTIC = Range(at_least=-_LARGEST, at_most=_LARGEST)
_RATIO = Range(at_least=0.0, at_most=_LARGEST)


def probability(value: object, argument: str) -> float:
    """One number strictly between 0 and 1, such as a confidence level.

    Parameters
    ----------
    value : fraction, dimensionless
    argument : name of the argument, for the error

    Returns
    -------
    The number.

    Raises
    ------
    MeasureError : it is not a number strictly between 0 and 1

    Notes
    -----
    Source: definition.

    Examples
    --------
    >>> probability(0.95, "confidence")
    0.95
    """
    fraction = number(value, argument)
    if not 0.0 < fraction < 1.0:
        hint = " (a fraction, not percent)" if 1.0 < fraction <= 100.0 else ""  # noqa: PLR2004
        raise MeasureError(argument, f"is {fraction!r} but must lie between 0 and 1{hint}")
    return fraction


def t_tail(t: float, df: float) -> float:
    """Probability that a t variable is above `t`.

    Parameters
    ----------
    t : value of the statistic, dimensionless
    df : degrees of freedom, 0.01 to 1e6

    Returns
    -------
    Fraction, 0 to 1. Twice the tail of abs(t) is the two-sided p value.

    Raises
    ------
    MeasureError : `t` or `df` is not finite or out of range

    Notes
    -----
    P(abs(T) > t) = I_x(df/2, 1/2) with x = df / (df + t^2), [DLMF] 8.17.

    Examples
    --------
    >>> round(t_tail(2.0, 10), 6)
    0.036694
    """
    return _t_tail(number(t, "t", _STATISTIC), number(df, "df", _DEGREES))


def _t_tail(t: float, df: float) -> float:
    whole = df + t * t
    both_tails = incomplete_beta(df / 2, 0.5, df / whole, t * t / whole)
    return both_tails / 2 if t >= 0 else 1 - both_tails / 2


def t_quantile(p: float, df: float) -> float:
    """Value that a t variable stays below with probability `p`.

    Parameters
    ----------
    p : fraction, strictly between 0 and 1
    df : degrees of freedom, 0.01 to 1e6

    Returns
    -------
    Quantile, dimensionless.

    Raises
    ------
    MeasureError : `p` or `df` is out of range, or the quantile is beyond 1e100

    Notes
    -----
    The inverse of `t_tail`, by bisection.

    Examples
    --------
    >>> round(t_quantile(0.975, 10), 6)
    2.228139
    """
    p, df = probability(p, "p"), number(df, "df", _DEGREES)
    if p == 0.5:  # noqa: PLR2004 - the median is 0 by symmetry
        return 0.0
    # Of the two equal tails the one below 1/2 is sought: 1 - p would lose the digits of a small p.
    size = _solve(lambda t: _t_tail(t, df), min(p, 1 - p))
    return size if p > 0.5 else -size  # noqa: PLR2004


def chi_square_tail(x: float, df: float) -> float:
    """Probability that a chi-square variable is above `x`.

    Parameters
    ----------
    x : value of the statistic, dimensionless, at least 0
    df : degrees of freedom, 0.01 to 1e6

    Returns
    -------
    Fraction, 0 to 1.

    Raises
    ------
    MeasureError : `x` or `df` is not finite or out of range

    Notes
    -----
    P(X > x) = Q(df/2, x/2), the upper regularized incomplete gamma function, [DLMF] 8.11.

    Examples
    --------
    >>> round(chi_square_tail(18.307, 10), 6)
    0.050001
    """
    x, df = number(x, "x", _RATIO), number(df, "df", _DEGREES)
    return incomplete_gamma(df / 2, x / 2)[1]


def chi_square_quantile(p: float, df: float) -> float:
    """Value that a chi-square variable stays below with probability `p`.

    Parameters
    ----------
    p : fraction, strictly between 0 and 1
    df : degrees of freedom, 0.01 to 1e6

    Returns
    -------
    Quantile, dimensionless, at least 0.

    Raises
    ------
    MeasureError : `p` or `df` is out of range, or the quantile is beyond 1e100

    Notes
    -----
    The inverse of `chi_square_tail`, by bisection.

    Examples
    --------
    >>> round(chi_square_quantile(0.95, 10), 6)
    18.307038
    """
    p, df = probability(p, "p"), number(df, "df", _DEGREES)
    if p < 0.5:  # noqa: PLR2004 - work with the smaller tail, which keeps its digits
        return _solve(lambda x: -incomplete_gamma(df / 2, x / 2)[0], -p)
    return _solve(lambda x: incomplete_gamma(df / 2, x / 2)[1], 1 - p)


def f_tail(f: float, df_numerator: float, df_denominator: float) -> float:
    """Probability that an F variable is above `f`: the p value of an analysis of variance.

    Parameters
    ----------
    f : ratio of mean squares, dimensionless, at least 0
    df_numerator, df_denominator : degrees of freedom, 0.01 to 1e6

    Returns
    -------
    Fraction, 0 to 1.

    Raises
    ------
    MeasureError : an argument is not finite or out of range

    Notes
    -----
    P(F > f) = I_x(d2/2, d1/2) with x = d2 / (d2 + d1 f), [DLMF] 8.17.

    Examples
    --------
    >>> round(f_tail(3.47805, 4, 10), 6)
    0.05
    """
    f = number(f, "f", _RATIO)
    d1 = number(df_numerator, "df_numerator", _DEGREES)
    d2 = number(df_denominator, "df_denominator", _DEGREES)
    whole = d2 + d1 * f
    return incomplete_beta(d2 / 2, d1 / 2, d2 / whole, d1 * f / whole)


def _solve(falling: Callable[[float], float], level: float) -> float:
    """Where a falling function of a number above 0 reaches a level, to the last digit."""
    low, high = 0.0, 1.0
    while falling(high) > level:
        low, high = high, high * 2
        if high > _LARGEST:
            raise MeasureError("p", f"is so near 0 or 1 that its quantile is beyond {_LARGEST:g}")
    while (middle := (low + high) / 2) not in (low, high):
        if falling(middle) > level:
            low = middle
        else:
            high = middle
    return high
