"""How a meter writes its readings, where that is not how the sheet holds them.

Source   density D = log10 1/T, opacity 1/T, T the transmittance as a fraction: ISO 5-1 and 5-2.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log10
from typing import TYPE_CHECKING

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import Bound

if TYPE_CHECKING:
    from collections.abc import Mapping

DECIMALS = 10
"""Kept after a conversion, so that a fraction of 0.58 is 58 percent and not a hair less."""

_FLIPPED = {
    Bound.EXACT: Bound.EXACT,
    Bound.AT_LEAST: Bound.AT_MOST,
    Bound.AT_MOST: Bound.AT_LEAST,
}


@dataclass(frozen=True, slots=True)
class Conventions:
    """What a reading profile says of the readings; the default is the sheet's own way."""

    fractions: bool = False  # dots and transmittances as 0 to 1
    negative_density: bool = False  # densities with a minus in front
    black_dot: bool = False  # the dot is the part that blocks light
    units: Mapping[str, str] = field(
        default_factory=dict
    )  # by field or column, where none is written

    def applied(self, column: str, value: float, bound: Bound) -> tuple[float, Bound]:
        """Return a reading of this column as the sheet holds it: opacity as density, all else as is.

        Raises
        ------
        RefusedValueError : an opacity that no film has
        """
        if column == "opacity":
            if value <= 0:
                raise RefusedValueError(
                    f"an opacity of {value:g} does not exist",
                    "look whether the column is the right one",
                )
            return round(log10(value), DECIMALS), bound
        if column == "density" and self.negative_density:
            return -value, _FLIPPED[bound]
        if column in {"dot", "transmittance"} and self.fractions:
            value = round(value * 100, DECIMALS)
        if column == "dot" and self.black_dot:
            return round(100 - value, DECIMALS), _FLIPPED[bound]
        return value, bound


OWN = Conventions()
"""The sheet's own way."""
