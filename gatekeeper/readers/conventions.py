"""How a meter writes its readings, where that is not how the sheet holds them.

Source   density D = log10 1/T, opacity 1/T, T the transmittance as a fraction: ISO 5-1 and 5-2.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log10
from typing import TYPE_CHECKING

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import Bound
from gatekeeper.wording import quoted

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
    may_be_fractions: bool = False  # a dot of 0.508 may be shown as 50.8 %, and nothing tells
    black_dot: bool = False  # the dot is the part that blocks light
    units: Mapping[str, str] = field(
        default_factory=dict
    )  # by field or column, where none is written

    def refuse_unsure(self, value: float, unit: str, text: str) -> None:
        """Raise when a dot, transmittance or tint may be a percentage or a fraction."""
        if self.may_be_fractions and not unit and 0 < value <= 1:
            percent = round(value * 100, DECIMALS)
            raise RefusedValueError(
                f"{quoted(text)} can be read as {value:g} % and as {percent:g} %, "
                "for this kind of workbook does not tell how a number is shown",
                "save the workbook as XLSX or ODS, or write the unit behind the number",
            )

    def applied(self, column: str, value: float, bound: Bound) -> tuple[float, Bound]:
        """Return a reading as the sheet holds it: opacity as density, most others as they are.

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
