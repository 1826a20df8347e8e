"""Unit words that people write behind a number, and what one of each is in the sheet's own unit.

Source   1 in = 25.4 mm exactly (international yard and pound agreement, 1959); 1 mil = 0.001 in;
         1 pt = 1/72 in, the desktop point (common practice; the older American one is 0.4 % less).
"""

from __future__ import annotations

from dataclasses import dataclass

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.wording import quoted

MM_PER_INCH = 25.4
CM_PER_INCH = 2.54
_DECIMALS = 10  # kept after a conversion: 23.58 in is 598.932 mm and not a hair more


@dataclass(frozen=True, slots=True)
class UnitTable:
    """The units that one kind of value may carry."""

    name: str  # what the value is, for messages
    factors: dict[str, float]
    bare: str = ""  # unit taken when none is written; empty: one must be written
    offered: tuple[str, ...] = ()  # the spellings that a message proposes

    def to_own(self, value: float, unit: str, written: str) -> float:
        """Return the value in the sheet's unit, or refuse a unit that is missing or unknown."""
        key = unit.casefold().replace(" ", "").rstrip(".") or self.bare
        factor = self.factors.get(key)
        if factor is not None:
            return value if factor == 1.0 else round(value * factor, _DECIMALS)
        offered = " or ".join(self.offered)
        if not key:
            meanings = " or ".join(f"{written} {spelling}" for spelling in self.offered[:2])
            raise RefusedValueError(
                f"{quoted(written)} has no unit: it may be {meanings}", f"write the unit: {offered}"
            )
        raise RefusedValueError(
            f"{quoted(unit, 20)} is no unit of {self.name}", f"write {offered} behind the number"
        )


def _spellings(factor: float, *words: str) -> dict[str, float]:
    return dict.fromkeys(words, factor)


RULING = UnitTable(
    "a ruling",
    _spellings(1.0, "lpi", "l/in", "l/inch", "lines/in", "lines/inch", "linesperinch")
    | _spellings(CM_PER_INCH, "l/cm", "lpcm", "lpc", "lines/cm", "linespercm", "cm-1", "/cm"),
    offered=("lpi", "l/cm"),
)
RESOLUTION = UnitTable(
    "a resolution",
    _spellings(1.0, "dpi", "d/in", "d/inch", "dots/in", "dots/inch", "dotsperinch")
    | _spellings(CM_PER_INCH, "d/cm", "dpcm", "dots/cm", "dotspercm"),
    offered=("dpi", "d/cm"),
)
_LENGTHS = (
    _spellings(1.0, "mm", "millimetre", "millimetres", "millimeter", "millimeters")
    | _spellings(10.0, "cm")
    | _spellings(1000.0, "m")
    | _spellings(0.001, "µm", "μm", "um", "micron", "microns")
    | _spellings(MM_PER_INCH, "in", "inch", "inches", '"', "″", "”")
    | _spellings(MM_PER_INCH / 1000, "mil", "mils", "thou")
)
LENGTH = UnitTable("a length", _LENGTHS, offered=("mm", "in", "mil"))
PATCH_LENGTH = UnitTable("a length", _LENGTHS, bare="mm", offered=("mm", "in"))
PERCENT = UnitTable(
    "a percentage", _spellings(1.0, "%", "percent", "pct", "per cent"), bare="%", offered=("%",)
)
DENSITY = UnitTable(
    "a density", _spellings(1.0, "d", "od", "log10"), bare="d", offered=("nothing", "D")
)
POINTS = UnitTable(
    "a type size",
    _spellings(1.0, "pt", "pts", "point", "points") | _spellings(72 / MM_PER_INCH, "mm"),
    bare="pt",
    offered=("pt", "mm"),
)
CELSIUS = UnitTable(
    "a temperature", _spellings(1.0, "c", "°c", "degc", "celsius"), bare="c", offered=("°C", "°F")
)
FAHRENHEIT = frozenset({"f", "°f", "degf", "fahrenheit"})
NONE = UnitTable("a plain number", {"": 1.0}, offered=("nothing",))
