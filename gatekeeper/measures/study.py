"""Meter studies: how far readings depend on the meter, on the hand that holds it, and on the film.

Units    those of the readings; standard deviations too. Categories and F are dimensionless.
Shapes   rows in any order; every part is read by every operator equally often.
Sources  [MSA] AIAG, Measurement Systems Analysis, 4th edition, chapter III section B; [NIST]
         NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4: pooling.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import variance
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.arguments import numbers
from gatekeeper.measures.crossed import MeanSquares, crossed, listed, mean_squares
from gatekeeper.measures.distributions import f_tail
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import READING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gatekeeper.measures.arguments import Series

POOLED_ABOVE_P: Final = 0.05
"""An interaction less significant than this counts as repeatability, [MSA]."""

CATEGORY_FACTOR: Final = 1.41
"""Root of 2 as [MSA] prints it: categories are 97 % intervals side by side."""


@dataclass(frozen=True)
class GaugeStudy:
    """Where the variation of a meter study comes from.

    Attributes
    ----------
    repeatability_sd : same meter, hand and part again; unit of the readings
    reproducibility_sd : from hand to hand, with what hands make of different parts
    gauge_sd : both together
    part_sd : from part to part
    total_sd : all together
    distinct_categories : parts the meter can tell apart, whole number, [MSA]; 5 or more is wanted
    category_ratio : the same before it is cut to a whole number
    pooled : the interaction was not significant and counts as repeatability
    interaction_f, interaction_p : its F ratio, and the chance of one so large
    mean_squares : the analysis of variance behind it
    """

    repeatability_sd: float
    reproducibility_sd: float
    gauge_sd: float
    part_sd: float
    total_sd: float
    distinct_categories: int
    category_ratio: float
    pooled: bool
    interaction_f: float
    interaction_p: float
    mean_squares: MeanSquares


def gauge_study(rows: Iterable[Sequence[object]]) -> GaugeStudy:
    """Split the variation of a crossed meter study by analysis of variance.

    Parameters
    ----------
    rows : (part, operator, value) for each reading; part and operator are any labels, value in
        any unit. At least 2 parts, 2 operators, and 2 readings of each part by each operator

    Returns
    -------
    Standard deviations, categories and the analysis behind them.

    Raises
    ------
    MeasureError : a row that is not three entries, a value that is not finite, too few parts or
        operators, a part not read equally often by each, or repeats that never differ

    Notes
    -----
    Two-way random effects; the interaction is pooled with the repeats when its p value is above
    0.05; a component that comes out negative is 0; categories 1.41 × part sd / gauge sd, [MSA].

    Examples
    --------
    >>> rows = [("a", "JV", 2.90), ("a", "JV", 2.91), ("a", "MK", 2.93), ("a", "MK", 2.92)]
    >>> rows += [("b", "JV", 3.20), ("b", "JV", 3.21), ("b", "MK", 3.23), ("b", "MK", 3.21)]
    >>> study = gauge_study(rows)
    >>> round(study.repeatability_sd, 4), round(study.part_sd, 3), study.distinct_categories
    (0.0085, 0.21, 20)
    """
    squares = mean_squares(crossed(rows))
    parts, operators, repeats = squares.parts, squares.operators, squares.repeats
    f = squares.interaction / squares.repeatability
    p = f_tail(f, squares.interaction_df, squares.repeatability_df)
    pooled = p > POOLED_ABOVE_P
    repeatability, noise = squares.repeatability, squares.interaction
    if pooled:
        repeatability = noise = squares.pooled
    interaction = max(0.0, (noise - repeatability) / repeats)
    operator = max(0.0, (squares.operator - noise) / (parts * repeats))
    part = max(0.0, (squares.part - noise) / (operators * repeats))
    reproducibility = operator + interaction
    gauge = repeatability + reproducibility
    ratio = CATEGORY_FACTOR * math.sqrt(part / gauge)
    return GaugeStudy(
        repeatability_sd=math.sqrt(repeatability),
        reproducibility_sd=math.sqrt(reproducibility),
        gauge_sd=math.sqrt(gauge),
        part_sd=math.sqrt(part),
        total_sd=math.sqrt(gauge + part),
        distinct_categories=max(1, int(ratio)),
        category_ratio=ratio,
        pooled=pooled,
        interaction_f=f,
        interaction_p=p,
        mean_squares=squares,
    )


def pooled_sd(groups: Iterable[Series]) -> float:
    """Take the standard deviation within groups, over all groups together.

    Parameters
    ----------
    groups : readings of each group, any unit; groups may differ in size, and one reading alone
        adds nothing

    Returns
    -------
    Standard deviation, unit of the readings; its degrees of freedom are readings less groups.

    Raises
    ------
    MeasureError : no group, an empty one, no group of two readings, or a reading that is not finite

    Notes
    -----
    Root of the mean of the variances, weighted by their degrees of freedom, [NIST].

    Examples
    --------
    >>> round(pooled_sd([[2.90, 2.92, 2.91], [3.20, 3.24]]), 4)
    0.0183
    """
    checked = [
        numbers(group, f"groups[{index}]", READING, fewest=1)
        for index, group in enumerate(listed(groups, "groups"))
    ]
    repeated = [group for group in checked if len(group) > 1]
    if not repeated:
        raise MeasureError("groups", "has no group of two readings or more")
    weighted = math.fsum((len(group) - 1) * variance(group) for group in repeated)
    return math.sqrt(weighted / sum(len(group) - 1 for group in repeated))
