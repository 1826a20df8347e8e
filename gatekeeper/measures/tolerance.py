"""The limits that readings have to keep, one of which may be missing.

Units    those of the readings.
Shapes   scalars.
Sources  definition.
Errors   `MeasureError`, naming the limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gatekeeper.measures.arguments import number
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import READING


@dataclass(frozen=True)
class Tolerance:
    """Lower and upper limit; infinite where there is none."""

    lower: float
    upper: float

    @property
    def is_two_sided(self) -> bool:
        """Both limits are given."""
        return math.isfinite(self.lower) and math.isfinite(self.upper)


def tolerance(lower: float | None, upper: float | None) -> Tolerance:
    """Two limits as numbers.

    Parameters
    ----------
    lower, upper : limits, unit of the readings; None where there is none

    Returns
    -------
    Both, infinite where there is none.

    Raises
    ------
    MeasureError : no limit at all, one that is not finite, or `lower` not below `upper`

    Notes
    -----
    Source: definition.

    Examples
    --------
    >>> tolerance(2.7, None)
    Tolerance(lower=2.7, upper=inf)
    """
    if lower is None and upper is None:
        raise MeasureError("lower", "and upper are both missing; give at least one limit")
    low = -math.inf if lower is None else number(lower, "lower", READING)
    high = math.inf if upper is None else number(upper, "upper", READING)
    if low >= high:
        raise MeasureError("lower", f"is {low!r} but must be below upper, {high!r}")
    return Tolerance(low, high)
