"""Monotone regression and monotone interpolation: the two halves of a tone curve.

Units    those of the data; nothing here knows percent.
Shapes   one axis; `monotone_fit` keeps the order given, `monotone_curve` needs rising x.
Sources  [A55] Ayer and others, Annals of Mathematical Statistics 26, 1955 (from memory): pooling
         adjacent violators; [FC80] Fritsch, Carlson, SIAM J. Numerical Analysis 17, 1980: when a
         cubic is monotone; [FB84] Fritsch, Butland, SIAM J. Scientific and Statistical Computing 5,
         1984 (both from memory): the slopes used.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import (
    Range,
    argument,
    elementwise,
    numbers,
    same_length,
)
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Numbers, Series

_ORDINARY = Range(at_least=-1e100, at_most=1e100)
_WEIGHT = Range(above=0.0, at_most=1e100)
# The slope at a knot may be up to three times that of the segment beside it, [FC80].
_STEEPEST = 3.0


def monotone_fit(values: Series, weights: Series | None = None) -> list[float]:
    """Rising values that lie nearest to the ones given, in the sense of least squares.

    Parameters
    ----------
    values : readings in the order in which they should rise, shape (n,), n at least 1
    weights : how much each counts, above 0, shape (n,); all alike when not given

    Returns
    -------
    Shape (n,), unit of `values`, never falling. Values that already rise come back unchanged.

    Raises
    ------
    MeasureError : no values, a number that is not finite, a weight that is not above 0, or two
        lengths that differ

    Notes
    -----
    Minimizes the sum of weight × (value - fit)^2 over all fits that do not fall, by pooling
    adjacent violators, [A55].

    Examples
    --------
    >>> monotone_fit([1, 3, 2, 4])
    [1.0, 2.5, 2.5, 4.0]
    """
    readings = numbers(values, "values", _ORDINARY, fewest=1)
    counted = [1.0] * len(readings) if weights is None else numbers(weights, "weights", _WEIGHT)
    same_length("values", readings, "weights", counted)
    blocks: list[_Block] = []
    for value, weight in zip(readings, counted, strict=True):
        block = _Block(value, weight, 1)
        while blocks and blocks[-1].mean > block.mean:
            block = blocks.pop().pooled_with(block)
        blocks.append(block)
    return [block.mean for block in blocks for _ in range(block.size)]


@dataclass(frozen=True)
class _Block:
    """Neighbouring readings that share one fitted value."""

    mean: float
    weight: float
    size: int

    def pooled_with(self, other: _Block) -> _Block:
        weight = self.weight + other.weight
        mean = self.mean + (other.mean - self.mean) * (other.weight / weight)
        return _Block(mean, weight, self.size + other.size)


@dataclass(frozen=True)
class MonotoneCurve:
    """A smooth curve through points, which never leaves the span between two neighbours.

    Attributes
    ----------
    x, y : the points, shape (n,), x rising
    slopes : of the curve at each point, shape (n,), unit of y over unit of x
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    slopes: tuple[float, ...]

    def __call__(self, at: Numbers) -> Numbers:
        """Height of the curve.

        Parameters
        ----------
        at : one place or many, within the first and the last x

        Returns
        -------
        Unit of y; one number for one, a list for a list, an array for an array.

        Raises
        ------
        MeasureError : a place is not finite or beyond the ends: nothing is extrapolated

        Notes
        -----
        The cubic of each segment in Hermite form, [FC80].

        Examples
        --------
        >>> monotone_curve([0, 50, 100], [0, 65, 100])([25, 50])
        [36.8125, 65.0]
        """
        ends = Range(at_least=self.x[0], at_most=self.x[-1], hint="the curve ends there")
        return elementwise(self.height, argument(at, "at", ends))

    def height(self, at: float) -> float:
        """Height at one place within the ends, which is not checked: for use in a loop.

        Examples
        --------
        >>> monotone_curve([0, 50, 100], [0, 65, 100]).height(25.0)
        36.8125
        """
        right = min(bisect.bisect_right(self.x, at), len(self.x) - 1)
        left = right - 1
        if at == self.x[right]:
            return self.y[right]
        width = self.x[right] - self.x[left]
        t = (at - self.x[left]) / width
        rise = self.y[right] - self.y[left]
        start, end = self.slopes[left] * width, self.slopes[right] * width
        return self.y[left] + t * (
            start + t * ((3 * rise - 2 * start - end) + t * (start + end - 2 * rise))
        )


def monotone_curve(x: Series, y: Series) -> MonotoneCurve:
    """Smooth curve through points that rises where they rise and never overshoots.

    Parameters
    ----------
    x : places, strictly rising, shape (n,), n at least 2
    y : heights, shape (n,), any unit; they need not rise, and a turn is kept where it is

    Returns
    -------
    A callable that gives the height at one place or many, from x[0] to x[-1].

    Raises
    ------
    MeasureError : fewer than 2 points, x that does not rise, a number that is not finite, or two
        lengths that differ

    Notes
    -----
    Piecewise cubic. The slope at an inner point is the weighted harmonic mean of the slopes of its
    two segments, 0 at a turn, [FB84], which keeps within the bound of [FC80]; the slope at an end
    is that of the parabola through three points, held to the same bound.

    Examples
    --------
    >>> curve = monotone_curve([0, 25, 50, 75, 100], [0, 38, 66, 86, 100])
    >>> round(curve(60.0), 3)
    74.819
    """
    places = numbers(x, "x", _ORDINARY, fewest=2)
    heights = numbers(y, "y", _ORDINARY)
    same_length("x", places, "y", heights)
    widths = [right - left for left, right in pairwise(places)]
    for index, width in enumerate(widths, start=1):
        if width <= 0:
            raise MeasureError("x", f"is {places[index]!r} but must rise at every step", index)
    rises = [right - left for left, right in pairwise(heights)]
    steepness = [rise / width for rise, width in zip(rises, widths, strict=True)]
    for index, segment in enumerate(steepness, start=1):
        if not math.isfinite(segment):
            raise MeasureError("x", "is so near its neighbour that no slope can be told", index)
    return MonotoneCurve(tuple(places), tuple(heights), tuple(_slopes(widths, steepness)))


def _slopes(widths: list[float], steepness: list[float]) -> list[float]:
    if len(widths) == 1:
        return steepness * 2
    inner = [
        _inner_slope(widths[i], widths[i + 1], steepness[i], steepness[i + 1])
        for i in range(len(widths) - 1)
    ]
    first = _end_slope(widths[0], widths[1], steepness[0], steepness[1])
    last = _end_slope(widths[-1], widths[-2], steepness[-1], steepness[-2])
    return [first, *inner, last]


def _inner_slope(width_left: float, width_right: float, left: float, right: float) -> float:
    """Weighted harmonic mean of the two segments' slopes; 0 where the data turn or rest."""
    if not (left > 0 < right or left < 0 > right):
        return 0.0
    weight_left = width_left + 2 * width_right
    weight_right = 2 * width_left + width_right
    return (weight_left + weight_right) / (weight_left / left + weight_right / right)


def _end_slope(width: float, next_width: float, end: float, following: float) -> float:
    """Slope of the parabola through the three outermost points, held to what keeps monotony."""
    slope = ((2 * width + next_width) * end - width * following) / (width + next_width)
    if slope * end <= 0:
        return 0.0
    if end * following <= 0 and abs(slope) > abs(_STEEPEST * end):
        return _STEEPEST * end
    return slope
