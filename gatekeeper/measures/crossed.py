"""The analysis of variance of a crossed study: every part read by every operator equally often.

Units    mean squares in the squared unit of the readings.
Shapes   rows in any order.
Sources  [MSA] AIAG, Measurement Systems Analysis, 4th edition, chapter III section B.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import product
from statistics import fmean, variance
from typing import Final, TypeAlias

from gatekeeper.measures.arguments import numbers
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import READING

FEWEST: Final = 2
"""Parts, operators, and readings of a part by an operator; with one there is no variation."""

# Rounding leaves about this of the largest number where a standard deviation should be 0.
_NO_SPREAD: Final = 1e-12
_ROW_ENTRIES: Final = 3

Cells: TypeAlias = Mapping[tuple[Hashable, Hashable], Sequence[float]]
"""Readings by part and operator."""


@dataclass(frozen=True)
class MeanSquares:
    """Mean squares of a study, and how large the study was.

    Attributes
    ----------
    part, operator, interaction, repeatability : mean squares, squared unit of the readings
    parts, operators, repeats : how many parts, operators, and readings of a part by an operator
    """

    part: float
    operator: float
    interaction: float
    repeatability: float
    parts: int
    operators: int
    repeats: int

    @property
    def interaction_df(self) -> int:
        """Degrees of freedom of the interaction."""
        return (self.parts - 1) * (self.operators - 1)

    @property
    def repeatability_df(self) -> int:
        """Degrees of freedom of the repeats."""
        return self.parts * self.operators * (self.repeats - 1)

    @property
    def pooled(self) -> float:
        """Mean square of interaction and repeats together."""
        of_interaction = self.interaction * self.interaction_df
        of_repeats = self.repeatability * self.repeatability_df
        return (of_interaction + of_repeats) / (self.interaction_df + self.repeatability_df)


def listed(values: Iterable[object], argument: str) -> list[object]:
    """List what can be gone through.

    Parameters
    ----------
    values : any collection
    argument : its name, for the error

    Returns
    -------
    Its entries, in order.

    Raises
    ------
    MeasureError : it is no collection

    Notes
    -----
    Source: none needed.

    Examples
    --------
    >>> listed((1, 2), "rows")
    [1, 2]
    """
    try:
        return list(values)
    except TypeError:
        raise MeasureError(argument, "must be a list") from None


def crossed(rows: Iterable[Sequence[object]]) -> Cells:
    """Sort readings by part and operator, once it is sure that the study is crossed and balanced.

    Parameters
    ----------
    rows : (part, operator, value) for each reading; labels of any kind, value in any unit

    Returns
    -------
    Readings of each part by each operator, equally many in each.

    Raises
    ------
    MeasureError : a row that is not three entries, a label that is none, a value that is not
        finite, too few parts, operators or repeats, or a part not read equally often by each

    Notes
    -----
    Source: [MSA].

    Examples
    --------
    >>> sheet = [(part, who, 1.0) for part in "ab" for who in "xy" for again in range(2)]
    >>> crossed(sheet)["a", "y"]
    [1.0, 1.0]
    """
    triples = [_triple(row, index) for index, row in enumerate(listed(rows, "rows"))]
    values = numbers([value for _, _, value in triples], "rows", READING)
    cells: dict[tuple[Hashable, Hashable], list[float]] = {}
    for index, ((part, operator, _), value) in enumerate(zip(triples, values, strict=True)):
        try:
            cells.setdefault((part, operator), []).append(value)
        except TypeError:
            raise MeasureError("rows", "has a part or operator that is no label", index) from None
    _require_balance(cells)
    return cells


def _triple(row: object, index: int) -> tuple[Hashable, Hashable, object]:
    # A set has no order, and a mapping gives its keys.
    is_ordered = not isinstance(row, AbstractSet | Mapping)
    entries = list(row) if isinstance(row, Iterable) and is_ordered else []
    if len(entries) != _ROW_ENTRIES:
        raise MeasureError("rows", "must be part, operator and value", index)
    part, operator, value = entries
    return part, operator, value


def _require_balance(cells: Cells) -> None:
    parts, operators = _labels(cells)
    for name, labels in (("part", parts), ("operator", operators)):
        if len(labels) < FEWEST:
            raise MeasureError("rows", f"needs at least {FEWEST} {name}s but has {len(labels)}")
    repeats = max(map(len, cells.values()))
    if repeats < FEWEST:
        raise MeasureError(
            "rows", "has each part only once by each operator, but repeats are needed"
        )
    for part, operator in product(parts, operators):
        found = len(cells.get((part, operator), ()))
        if found != repeats:
            raise MeasureError(
                "rows", f"has part {part!r} by operator {operator!r} {found} times, not {repeats}"
            )


def _labels(cells: Cells) -> tuple[list[Hashable], list[Hashable]]:
    """Parts and operators, each once, in the order met."""
    return list(dict.fromkeys(part for part, _ in cells)), list(
        dict.fromkeys(operator for _, operator in cells)
    )


def mean_squares(cells: Cells) -> MeanSquares:
    """Two-way analysis of variance with interaction.

    Parameters
    ----------
    cells : what `crossed` gives

    Returns
    -------
    Mean squares, squared unit of the readings.

    Raises
    ------
    MeasureError : repeats that never differ

    Notes
    -----
    Sums of squares of the means about each other, over their degrees of freedom, [MSA].

    Examples
    --------
    >>> cells = {("a", "x"): [1, 3], ("a", "y"): [2, 4], ("b", "x"): [5, 7], ("b", "y"): [6, 8]}
    >>> squares = mean_squares(cells)
    >>> squares.part, squares.operator, squares.interaction, squares.repeatability
    (32.0, 2.0, 0.0, 2.0)
    """
    parts, operators = _labels(cells)
    repeats = len(cells[parts[0], operators[0]])
    means = {cell: fmean(readings) for cell, readings in cells.items()}
    repeatability = fmean(variance(readings) for readings in cells.values())
    largest = max(abs(value) for readings in cells.values() for value in readings)
    if repeatability <= (_NO_SPREAD * largest) ** 2:
        raise MeasureError("rows", "has repeats that never differ: read with more digits")
    of_parts = {part: fmean(means[part, each] for each in operators) for part in parts}
    of_operators = {each: fmean(means[part, each] for part in parts) for each in operators}
    centre = fmean(of_parts.values())
    part_sum = sum((mean - centre) ** 2 for mean in of_parts.values())
    operator_sum = sum((mean - centre) ** 2 for mean in of_operators.values())
    left_sum = sum(
        (mean - of_parts[part] - of_operators[each] + centre) ** 2
        for (part, each), mean in means.items()
    )
    part_df, operator_df = len(parts) - 1, len(operators) - 1
    return MeanSquares(
        part=repeats * len(operators) * part_sum / part_df,
        operator=repeats * len(parts) * operator_sum / operator_df,
        interaction=repeats * left_sum / (part_df * operator_df),
        repeatability=repeatability,
        parts=len(parts),
        operators=len(operators),
        repeats=repeats,
    )
