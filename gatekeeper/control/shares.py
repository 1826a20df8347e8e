"""A share of jobs with its bounds: few jobs say little, and the bounds say how little.

Units    fractions, 0 to 1.
Sources  [W27] Wilson, J. American Statistical Association 22, 1927: score interval; compared with
         others by Newcombe, Statistics in Medicine 17, 1998.
Pure     no file, no clock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many, as a fraction with confidence bounds."""

    part: int
    whole: int
    lower: float
    upper: float

    @property
    def fraction(self) -> float | None:
        """The share; None of nothing."""
        return self.part / self.whole if self.whole else None


def share(part: int, whole: int, *, confidence: float = CONFIDENCE) -> Share:
    """Return the share with its score interval.

    Parameters
    ----------
    part, whole : counts, 0 to `whole`
    confidence : of the bounds, fraction

    Raises
    ------
    ValueError : the part is not within the whole

    Notes
    -----
    (p + z²/2n ± z sqrt(p (1 - p)/n + z²/4n²)) / (1 + z²/n), [W27]. Of nothing it is 0 to 1.

    Examples
    --------
    >>> found = share(15, 148)
    >>> round(found.lower, 4), round(found.upper, 4)
    (0.0624, 0.1605)
    """
    if not 0 <= part <= whole:
        raise ValueError(part, whole)
    if not whole:
        return Share(0, 0, 0.0, 1.0)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    p, weight = part / whole, z * z / whole
    middle = p + weight / 2
    reach = z * math.sqrt(p * (1 - p) / whole + weight / (4 * whole))
    low, high = (middle - reach) / (1 + weight), (middle + reach) / (1 + weight)
    # At the ends rounding leaves a trace beside 0 and 1.
    return Share(part, whole, low if part else 0.0, high if part < whole else 1.0)
