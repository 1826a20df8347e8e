"""A straight line through readings, and whether its slope is more than scatter.

A failing print head or lamp shows as a slope across the film, and a slope of three spots is easily
imagined. The p value says how often scatter alone would give a slope as steep as the one seen.

Units    x and y in any unit; slope: y per x; probabilities: fractions.
Shapes   one axis each, one entry a reading, in the same order.
Sources  [NIST] NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.6.7 (opened, with data);
         textbook least squares.
Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.measures.arguments import Range, numbers, same_length
from gatekeeper.measures.distributions import t_tail
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series

FEWEST = 3
"""Readings that a line with an uncertainty needs: two are always on a line."""

SQUARABLE = Range(at_least=-1e150, at_most=1e150)

STEEPEST_T = 1e100
"""Beyond this the p value is 0 to any number of digits that a report would show."""


@dataclass(frozen=True)
class StraightLine:
    """Least squares line y = intercept + slope · x with standard uncertainties (k = 1).

    `residual_sd` is the scatter about the line, in the unit of y. `p_value` is the probability
    of a slope at least this steep, either way, if there were none.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    residual_sd: float
    degrees_of_freedom: int
    p_value: float

    def at(self, x: float) -> float:
        """Height of the line at x, in the unit of y."""
        return self.intercept + self.slope * x


def straight_line(x: Series, y: Series) -> StraightLine:
    """Fit a straight line by least squares and test its slope against none.

    Parameters
    ----------
    x : where each reading was taken, as a position across the film in mm; one axis, at least
        three entries, not all alike
    y : readings; one axis of the same length

    Returns
    -------
    `StraightLine` with `.intercept`, `.slope`, `.u_intercept`, `.u_slope`, `.residual_sd`,
    `.degrees_of_freedom`, `.p_value` (two-sided, for the slope) and `.at(x)`.

    Raises
    ------
    MeasureError : a number is not finite, the axes differ in length, there are fewer than three
        readings, all `x` are alike, or the numbers are too large to square

    Notes
    -----
    Ordinary least squares, [NIST]; u_slope = s / sqrt(sum (x - mean)^2); t = slope / u_slope on
    n - 2 degrees of freedom. Readings that lie on the line to the last digit have p = 0, or p = 1
    when the line is level.

    Examples
    --------
    >>> line = straight_line([0, 300, 600, 900], [2.95, 2.91, 2.88, 2.83])
    >>> round(line.slope * 900, 3), round(line.p_value, 4)
    (-0.117, 0.0046)
    """
    across, read = numbers(x, "x", SQUARABLE, fewest=FEWEST), numbers(y, "y", SQUARABLE)
    same_length("x", across, "y", read)
    # Differences from the first entry: equal readings then scatter by exactly nothing, and a
    # small slope on a large offset keeps its digits.
    x_steps, y_steps = [each - across[0] for each in across], [each - read[0] for each in read]
    degrees = len(across) - 2
    x_mean, y_mean = _mean(x_steps), _mean(y_steps)
    x_off, y_off = [each - x_mean for each in x_steps], [each - y_mean for each in y_steps]
    x_squares = math.fsum(off * off for off in x_off)
    if x_squares == 0.0:
        raise MeasureError(
            "x", "is the same, or nearly so, for every reading; a line needs two places"
        )
    slope = math.fsum(a * b for a, b in zip(x_off, y_off, strict=True)) / x_squares
    scatter = math.fsum((b - slope * a) ** 2 for a, b in zip(x_off, y_off, strict=True))
    residual_sd = math.sqrt(scatter / degrees)
    u_slope = residual_sd / math.sqrt(x_squares)
    middle = across[0] + x_mean
    return StraightLine(
        intercept=read[0] + y_mean - slope * middle,
        slope=slope,
        u_intercept=math.hypot(residual_sd / math.sqrt(len(across)), middle * u_slope),
        u_slope=u_slope,
        residual_sd=residual_sd,
        degrees_of_freedom=degrees,
        p_value=_two_sided(slope, u_slope, degrees),
    )


def _mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)


def _two_sided(slope: float, u_slope: float, degrees: int) -> float:
    if slope == 0.0:
        return 1.0
    if u_slope <= abs(slope) / STEEPEST_T:
        return 0.0
    return 2.0 * t_tail(abs(slope) / u_slope, degrees)
