"""One question asked in several places: does a thing fail more often than the others there do.

Units    counts in, probabilities as fractions out.
Shapes   one (failed, whole, others_failed, others_whole) for each place.
Sources  [MH59] Mantel, Haenszel, J. National Cancer Institute 22, 1959; [C54] Cochran, Biometrics
         10, 1954 (both from memory).
Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from collections.abc import Sequence

_CORRECTION = 0.5
"""For counts, which move by whole steps: half of one, [MH59]."""


@dataclass(frozen=True, slots=True)
class Excess:
    """How much more often it failed than the others did in the same places."""

    expected: float  # failures, were it as good as the others
    observed: int  # in places that can tell
    statistic: float  # chi-square with one degree of freedom, with the correction
    p_more: float  # that so many or more fail by chance
    odds_ratio: float | None  # common to all places; None where the others never failed


def stratified_excess(places: Sequence[tuple[int, int, int, int]]) -> Excess | None:
    """Compare failures with those of others, each place by itself, and pool what they say.

    Parameters
    ----------
    places : for each (failed, whole, others_failed, others_whole), counts

    Returns
    -------
    The excess; None where no place can tell, because there all failed, none failed, or there are no
    others.

    Raises
    ------
    MeasureError : a count is below 0, or above its whole

    Notes
    -----
    Cochran-Mantel-Haenszel: with a failures of n, N in all and M failed in all of a place,
    E = nM/N and V = n (N - n) M (N - M) / (N² (N - 1)); chi² = (|sum(a - E)| - 1/2)² / sum V,
    [C54], [MH59]. A place where everything fails often counts as such, and not against the thing.

    Examples
    --------
    >>> found = stratified_excess([(6, 10, 2, 40), (5, 12, 3, 50)])
    >>> round(found.expected, 2), found.observed, found.p_more < 0.001
    (3.15, 11, True)
    """
    for index, (failed, whole, others_failed, others_whole) in enumerate(places):
        if not (0 <= failed <= whole and 0 <= others_failed <= others_whole):
            raise MeasureError("places", f"at index {index} a count is not within its whole")
    telling = [place for place in places if _variance(*place) > 0.0]
    if not telling:
        return None
    observed = sum(place[0] for place in telling)
    expected = sum(_expected(*place) for place in telling)
    spread = math.sqrt(sum(_variance(*place) for place in telling))
    gap = observed - expected
    corrected = math.copysign(max(abs(gap) - _CORRECTION, 0.0), gap) / spread
    above = sum(a * (m - c) / (n + m) for a, n, c, m in telling)
    below = sum((n - a) * c / (n + m) for a, n, c, m in telling)
    return Excess(
        expected=expected,
        observed=observed,
        statistic=corrected**2,
        p_more=NormalDist().cdf(-corrected),
        odds_ratio=above / below if below else None,
    )


def _expected(failed: int, whole: int, others_failed: int, others_whole: int) -> float:
    return whole * (failed + others_failed) / (whole + others_whole)


def _variance(failed: int, whole: int, others_failed: int, others_whole: int) -> float:
    total, bad = whole + others_whole, failed + others_failed
    if total < 2:  # noqa: PLR2004 -- one thing alone compares with nothing
        return 0.0
    return whole * others_whole * bad * (total - bad) / (total**2 * (total - 1))
