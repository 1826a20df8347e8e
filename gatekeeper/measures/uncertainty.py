"""Measurement uncertainty and the decision that it leaves open.

Units    a value, its limits and its uncertainties all in one unit; probabilities: fractions.
         u is a standard uncertainty (k = 1), expanded_u is k times that, usually k = 2.
Shapes   one number or one axis where a function says so, single numbers elsewhere.
Sources  [GUM] JCGM 100:2008 (annex H.1 in a transcription, the rest from memory); [106]
         JCGM 106:2012 (from memory); [14253] ISO 14253-1:2017 and [G8] ILAC-G8:09/2019 (in
         transcriptions); [13528] ISO 13528:2022 (from memory, its example in a transcription).
Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import (
    NOT_NEGATIVE,
    POSITIVE,
    Argument,
    Numbers,
    Range,
    argument,
    elementwise,
    number,
    numbers,
)
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

SQRT2 = math.sqrt(2.0)

DOUBT = Range(above=0.0, hint="or expanded_u_certified must be")


@dataclass(frozen=True)
class AcceptanceLimits:
    """Limits that a reading is compared with; None where there is no limit on that side."""

    lower: float | None
    upper: float | None

    @property
    def is_empty(self) -> bool:
        """Whether the guard bands meet, so that no reading can be accepted."""
        return self.lower is not None and self.upper is not None and self.lower > self.upper


def combined_uncertainty(contributions: Series) -> float:
    """Combine independent contributions to one standard uncertainty.

    Parameters
    ----------
    contributions : standard uncertainties, each already times its sensitivity, at least 0 and all
        in the unit of the result; one axis, at least one entry

    Returns
    -------
    Combined standard uncertainty, in the same unit.

    Raises
    ------
    MeasureError : a contribution is not finite or is below 0, or there is none

    Notes
    -----
    Root of the sum of the squares, [GUM] 5.1.2.

    Examples
    --------
    >>> combined_uncertainty([3, 4])
    5.0
    """
    return math.hypot(*numbers(contributions, "contributions", NOT_NEGATIVE, fewest=1))


def conformance_probability(
    value: Numbers,
    u: Numbers | float,
    lower: float | None = None,
    upper: float | None = None,
) -> Numbers:
    """Probability that the true value lies within its limits, given one reading.

    Parameters
    ----------
    value : reading; number or one axis
    u : standard uncertainty (k = 1) of the reading, at least 0; one number, or one entry a
        reading. At 0 the reading is taken as true: the answer is 1 or 0, and 1 at a limit
    lower, upper : limits, `lower` not above `upper`; None where there is none, at least one given

    Returns
    -------
    Fraction, 0 to 1, shape of `value`.

    Raises
    ------
    MeasureError : an argument is not finite, `u` is below 0, `lower` is above `upper`, or both
        limits are missing

    Notes
    -----
    Phi((upper - value)/u) - Phi((lower - value)/u), Phi the normal distribution, [106] 7. Each
    tail is computed from the complementary error function, so that a probability of 1e-50 comes
    out as such and not as 0.

    Examples
    --------
    >>> round(conformance_probability(-5.47, 0.05, upper=-5.4), 4)
    0.9192
    >>> round(conformance_probability(13.6, 1.8, lower=12.5, upper=16.3), 4)
    0.6626
    """
    low, high = _limits(lower, upper)
    return elementwise(
        lambda read, spread: _probability_between(read, spread, low, high),
        argument(value, "value"),
        argument(u, "u", NOT_NEGATIVE),
    )


def acceptance_limits(
    lower: float | None, upper: float | None, expanded_u: float, guard: float = 1.0
) -> AcceptanceLimits:
    """Draw the limits in by a guard band, so that the meter's doubt does not pass a bad film.

    Parameters
    ----------
    lower, upper : limits, `lower` not above `upper`; None where there is none, at least one given
    expanded_u : expanded uncertainty (k = 2) of the reading, at least 0
    guard : width of the guard band as a multiple of `expanded_u`, at least 0. 0 is the plain
        rule; 0.83 keeps the risk of a false pass under 5 %, 1 under 2.5 %

    Returns
    -------
    `AcceptanceLimits` with `.lower`, `.upper` and `.is_empty`.

    Raises
    ------
    MeasureError : an argument is not finite or is below 0, `lower` is above `upper`, or both
        limits are missing

    Notes
    -----
    lower + guard · U and upper - guard · U, [106] 8.3.2, [14253], [G8] 4.

    Examples
    --------
    >>> acceptance_limits(48.0, 52.0, 0.5)
    AcceptanceLimits(lower=48.5, upper=51.5)
    """
    low, high = _limits(lower, upper)
    expanded = number(expanded_u, "expanded_u", NOT_NEGATIVE)
    band = number(guard, "guard", NOT_NEGATIVE) * expanded
    return AcceptanceLimits(
        lower=None if lower is None else low + band, upper=None if upper is None else high - band
    )


def capability_index(tolerance: Numbers, u: Numbers | float) -> Numbers:
    """Say how well a meter can tell good from bad within a tolerance.

    Parameters
    ----------
    tolerance : whole width from lower to upper limit, above 0 (for ± 2 it is 4); number or one
        axis
    u : standard uncertainty (k = 1) of the reading, above 0; one number, or one entry a
        tolerance

    Returns
    -------
    Index, dimensionless, shape of `tolerance`. At 1 the expanded uncertainty (k = 2) fills the
    tolerance and guard bands of that width leave one point; 3 or more is comfortable.

    Raises
    ------
    MeasureError : an argument is not finite or not above 0, or the two axes differ in length

    Notes
    -----
    tolerance / (4 u), the measurement capability index of [106] 7.6.

    Examples
    --------
    >>> capability_index(4.0, 0.5)
    2.0
    """
    return elementwise(
        lambda width, spread: width / (4.0 * spread),
        argument(tolerance, "tolerance", POSITIVE),
        argument(u, "u", POSITIVE),
    )


def en_number(
    value: Numbers,
    certified: Numbers | float,
    expanded_u: Numbers | float,
    expanded_u_certified: Numbers | float,
) -> Numbers:
    """Compare a reading with a certified value in the light of both uncertainties.

    Parameters
    ----------
    value : reading; number or one axis
    certified : certified value; one number, or one entry a reading
    expanded_u : expanded uncertainty (k = 2) of the reading, at least 0; likewise
    expanded_u_certified : expanded uncertainty (k = 2) of the certified value, at least 0;
        likewise. The two must not both be 0

    Returns
    -------
    E_n, dimensionless, shape of `value`, with the sign of the deviation. Between -1 and 1 the
    two agree within what they claim.

    Raises
    ------
    MeasureError : an argument is not finite, an uncertainty is below 0, or both are 0

    Notes
    -----
    (value - certified) / sqrt(U^2 + U_certified^2), [13528] 9.7.

    Examples
    --------
    >>> round(en_number(0.037, 0.044, 0.013, 0.0082), 2)
    -0.46
    """
    own: Argument[Numbers] = argument(expanded_u, "expanded_u", NOT_NEGATIVE)
    theirs: Argument[Numbers] = argument(expanded_u_certified, "expanded_u_certified", NOT_NEGATIVE)
    doubt: Argument[Numbers] = argument(elementwise(math.hypot, own, theirs), "expanded_u", DOUBT)
    return elementwise(
        lambda read, known, together: (read - known) / together,
        argument(value, "value"),
        argument(certified, "certified"),
        doubt,
    )


def _limits(lower: float | None, upper: float | None) -> tuple[float, float]:
    """Read the limits; a missing one lies at infinity."""
    if lower is None and upper is None:
        raise MeasureError("lower", "and upper are both missing; give at least one limit")
    low = -math.inf if lower is None else number(lower, "lower")
    high = math.inf if upper is None else number(upper, "upper")
    if low > high:
        raise MeasureError("lower", f"is {low!r} but must not be above upper, {high!r}")
    return low, high


def _probability_between(value: float, u: float, low: float, high: float) -> float:
    if u == 0.0:
        return 1.0 if low <= value <= high else 0.0
    below, above = (low - value) / u, (high - value) / u
    # The difference of two numbers near 1 has no digits left: on either side of the limits the
    # far tails are subtracted instead, and between them two error functions added.
    if below > 0.0:
        return _upper_tail(below) - _upper_tail(above)
    if above < 0.0:
        return _upper_tail(-above) - _upper_tail(-below)
    return 0.5 * (math.erf(above / SQRT2) + math.erf(-below / SQRT2))


def _upper_tail(z: float) -> float:
    return 0.5 * math.erfc(z / SQRT2)
