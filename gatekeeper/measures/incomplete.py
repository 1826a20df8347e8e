"""The incomplete beta and gamma functions, on which the tails of t, chi-square and F rest.

Units    all dimensionless.
Shapes   scalars.
Sources  [DLMF] NIST Digital Library of Mathematical Functions, 8.9, 8.11 and 8.17 (from memory);
         [L76] Lentz, Applied Optics 15, 1976 (from memory): a continued fraction from its front.
Errors   none: the arguments have been checked by `distributions`, which alone calls this.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator

_PRECISION = 1e-16
_MOST_TERMS = 10_000
_TINY = 1e-300

Term: TypeAlias = tuple[float, float]


def incomplete_beta(a: float, b: float, x: float, y: float) -> float:
    """Regularized I_x(a, b), [DLMF] 8.17.

    Parameters
    ----------
    a, b : shape parameters, above 0
    x, y : argument, 0 to 1, and 1 - x, which comes along so that its digits survive near x = 1

    Returns
    -------
    Fraction, 0 to 1.

    Examples
    --------
    >>> round(incomplete_beta(2.0, 2.0, 0.25, 0.75), 6)
    0.15625
    """
    if x <= 0.0 or y <= 0.0:
        return 0.0 if x <= 0.0 else 1.0
    # The fraction converges fast only below the mean; above it the mirror image does.
    if x > (a + 1) / (a + b + 2):
        return 1.0 - _beta_below_mean(b, a, y, x)
    return _beta_below_mean(a, b, x, y)


def _beta_below_mean(a: float, b: float, x: float, y: float) -> float:
    log_front = a * math.log(x) + b * math.log(y)
    log_front += math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return math.exp(log_front) / a * _fraction(_beta_terms(a, b, x))


def _beta_terms(a: float, b: float, x: float) -> Iterator[Term]:
    """Numerators and denominators of the continued fraction [DLMF] 8.17.22."""
    yield 1.0, 1.0
    m = 0
    while True:
        yield -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0
        m += 1
        yield m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0


def incomplete_gamma(a: float, x: float) -> tuple[float, float]:
    """Regularized P(a, x) and Q(a, x), [DLMF] 8.11; the smaller is computed, the other is the rest.

    Parameters
    ----------
    a : shape parameter, above 0
    x : argument, at least 0

    Returns
    -------
    Two fractions with the sum 1.

    Examples
    --------
    >>> lower, upper = incomplete_gamma(1.0, 2.0)
    >>> round(upper, 6)
    0.135335
    """
    if x <= 0.0:
        return 0.0, 1.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if front == 0.0:
        return (0.0, 1.0) if x < a else (1.0, 0.0)
    if x < a + 1:
        lower = front * _gamma_series(a, x)
        return lower, 1.0 - lower
    upper = front * _fraction(_gamma_terms(a, x))
    return 1.0 - upper, upper


def _gamma_series(a: float, x: float) -> float:
    """Sum of x^n / (a (a+1) … (a+n)), [DLMF] 8.11.4, for x below a + 1: the terms only fall."""
    term = total = 1.0 / a
    n = 0
    while term > total * _PRECISION:
        n += 1
        term *= x / (a + n)
        total += term
    return total


def _gamma_terms(a: float, x: float) -> Iterator[Term]:
    """Numerators and denominators of the continued fraction of Q, [DLMF] 8.9.2 contracted."""
    yield 1.0, x + 1 - a
    n = 0
    while True:
        n += 1
        yield -n * (n - a), x + 2 * n + 1 - a


def _fraction(terms: Iterator[Term]) -> float:
    """Value of a continued fraction given as (numerator, denominator) pairs, [L76]."""
    value, c, d = _TINY, _TINY, 0.0
    factor, left = 0.0, _MOST_TERMS
    # Within the degrees of freedom allowed some eight hundred terms do; the bound is a stop for
    # rounding that would swing about the end for ever.
    while abs(factor - 1.0) > _PRECISION and left:
        above, below = next(terms)
        d = 1.0 / ((below + above * d) or _TINY)
        c = (below + above / c) or _TINY
        factor = c * d
        value *= factor
        left -= 1
    return value
