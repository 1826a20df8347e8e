"""A wedge of tints: the smoothed response through its readings, and patches that do not fit in.

Units    percent dot area, 0 to 100: sent to the printer, and read.
Shapes   one axis, one entry a patch, in the order given.
Sources  regression and interpolation as in `monotone`; [IH93] Iglewicz, Hoaglin, How to Detect and
         Handle Outliers, 1993 (from memory): 3.5 spreads from the median of absolute errors.
Errors   none: the arguments have been checked by `tone`, which alone calls this.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass
from statistics import fmean, median
from typing import TYPE_CHECKING, Final, NamedTuple

from gatekeeper.measures.monotone import MonotoneCurve, monotone_curve, monotone_fit

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

MAX_CORRECTION_SLOPE: Final = 10.0
"""Percent sent per percent wanted: the steepest that a correction may become. Our own choice."""

_FULL: Final = 100.0
_LEAST_RISE: Final = 1 / MAX_CORRECTION_SLOPE
_OUTLYING_SPREADS: Final = 3.5
_MAD_TO_SD: Final = 1.4826
# Below this, in percent, a spread says how well a meter repeats and nothing of the wedge.
_LEAST_SPREAD: Final = 0.5
# With fewer steps between 0 and 100, none of them can be told from the bend of the curve.
_FEWEST_STEPS_TO_JUDGE: Final = 5


class Patch(NamedTuple):
    """Percent sent to the printer, and percent read."""

    sent: float
    read: float

    @property
    def counts(self) -> bool:
        """Its reading counts; 0 and 100 are kept whatever they read."""
        return 0.0 < self.sent < _FULL


@dataclass(frozen=True)
class Response:
    """Percent read for percent sent: always rising, 0 at 0 and 100 at 100.

    Attributes
    ----------
    excess : what the response has over the least rise, a curve that never falls
    """

    excess: MonotoneCurve

    def __call__(self, sent: float) -> float:
        """Percent read."""
        return self.excess.height(sent) + _LEAST_RISE * sent

    def inverse(self, read: float) -> float:
        """Percent sent for a percent read, to the last digit."""
        knots = self.excess.x
        right = bisect.bisect_left(knots, read, key=self)
        if right == 0 or read == self(knots[right]):
            return knots[right]
        low, high = knots[right - 1], knots[right]
        while (middle := (low + high) / 2) not in (low, high):
            if self(middle) < read:
                low = middle
            else:
                high = middle
        return high


def response(patches: Iterable[Patch]) -> Response:
    """Lay the rising curve that keeps 0 and 100 nearest to the readings."""
    steps: dict[float, list[float]] = {}
    for patch in patches:
        if patch.counts:
            steps.setdefault(patch.sent, []).append(patch.read - _LEAST_RISE * patch.sent)
    places = sorted(steps)
    heights = [fmean(steps[at]) for at in places]
    weights = [float(len(steps[at])) for at in places]
    # Least squares under a least rise and between fixed ends: with the least rise taken off it is
    # ordinary monotone regression, and cutting that at the ends gives the bounded one.
    top = _FULL - _LEAST_RISE * _FULL
    fitted = monotone_fit(heights, weights) if places else []
    within = (min(max(height, 0.0), top) for height in fitted)
    return Response(monotone_curve([0.0, *places, _FULL], [0.0, *within, top]))


def left_out_errors(patches: Sequence[Patch]) -> list[float]:
    """Take from each reading what the other steps let expect, percent, shape (n,).

    A step is left out with all its repeats: they would tell how well the meter repeats, not how
    well the curve runs between the steps.
    """
    expected = {
        step: response(patch for patch in patches if patch.sent != step)(step)
        for step in {patch.sent for patch in patches}
    }
    return [patch.read - expected[patch.sent] for patch in patches]


def outliers(patches: Sequence[Patch]) -> list[int]:
    """Find the indices of the patches that do not go with the others.

    A patch is one when it lies more than 3.5 spreads off what the others let expect, [IH93], and
    they agree better among themselves without it. The second half spares a patch at a sharp bend
    of the curve: the others cannot foresee it, but they need it.
    """
    kept = {index: patch for index, patch in enumerate(patches) if patch.counts}
    found = []
    while len({patch.sent for patch in kept.values()}) >= _FEWEST_STEPS_TO_JUDGE:
        worst = _worst(kept)
        if worst is None:
            break
        found.append(worst)
        del kept[worst]
    return sorted(found)


def _worst(patches: dict[int, Patch]) -> int | None:
    """Of the patches that are outliers, the one without which the others agree best."""
    errors = dict(zip(patches, left_out_errors(list(patches.values())), strict=True))
    agreement = {}
    for suspect, error in errors.items():
        if abs(error) <= _OUTLYING_SPREADS * _LEAST_SPREAD:
            continue
        others = left_out_errors([patches[index] for index in patches if index != suspect])
        spread = max(_LEAST_SPREAD, _MAD_TO_SD * median(map(abs, others)))
        without = root_mean_square(others)
        together = root_mean_square(errors[index] for index in errors if index != suspect)
        if abs(error) > _OUTLYING_SPREADS * spread and without < together:
            agreement[suspect] = without
    return min(agreement, key=agreement.__getitem__, default=None)


def root_mean_square(errors: Iterable[float]) -> float:
    """Size of a typical error, in its unit."""
    return math.sqrt(fmean(error**2 for error in errors))
