"""Text → the typed value that a field of the head or a column of the table holds.

Units    what comes back is in the unit of the field's name in `sheet.py`, the text beside it.
Limits   `PLAUSIBLE` is the physical world, not the rules: what no film, meter or plate can have is
         a slip of the pen or of the column, and is refused before any rule sees it (common
         practice).
Errors   `RefusedValueError`, with what is wrong and how to write it.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from gatekeeper.readers import units
from gatekeeper.readers.conventions import OWN, Conventions
from gatekeeper.readers.moments import moment_of
from gatekeeper.readers.names import OPACITY
from gatekeeper.readers.numerals import Numerals
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import (
    FIELDS,
    Bound,
    FieldKind,
    Moment,
    Number,
    SheetKind,
    Text,
    Trace,
    ZeroedOn,
)
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import tzinfo

    from gatekeeper.readers.interface import Declarations
    from gatekeeper.readers.units import UnitTable

Choice = TypeVar("Choice", ZeroedOn, SheetKind)
Value = Text | Number | Moment | ZeroedOn | SheetKind

PLAUSIBLE: dict[str, tuple[float, float]] = {
    "density": (-1.0, 10.0),
    "dot_percent": (-20.0, 120.0),
    "transmittance_percent": (0.0, 120.0),
    "length_mm": (0.001, 100_000.0),
    "tint": (0.0, 100.0),
    "separations": (1, 100),
    "ruling_lpi": (1.0, 2_000.0),
    "resolution_dpi": (10.0, 100_000.0),
    "plate_thickness_mm": (0.01, 50.0),
    "plate_base_mm": (0.001, 50.0),
    "repeat_mm": (1.0, 100_000.0),
    "shrink_percent": (-50.0, 50.0),
    "temperature_c": (-50.0, 100.0),
    "humidity_percent": (0.0, 100.0),
    "smallest_type_pt": (0.1, 5_000.0),
}
"""Lowest and highest possible value, by the name of the attribute that holds it."""

_UNITS: dict[FieldKind, UnitTable] = {
    FieldKind.COUNT: units.NONE,
    FieldKind.RULING: units.RULING,
    FieldKind.RESOLUTION: units.RESOLUTION,
    FieldKind.LENGTH: units.LENGTH,
    FieldKind.PERCENT: units.PERCENT,
    FieldKind.POINTS: units.POINTS,
    FieldKind.CELSIUS: units.CELSIUS,
}
READINGS = {
    "density": "density",
    "dot": "dot_percent",
    "transmittance": "transmittance_percent",
    "length": "length_mm",
    OPACITY: "density",
}
"""Columns that hold a reading, and the attribute of `Patch` that each fills."""

_READING_UNITS: dict[str, UnitTable] = {
    "density": units.DENSITY,
    "dot": units.PERCENT,
    "transmittance": units.PERCENT,
    "length": units.PATCH_LENGTH,
    OPACITY: units.NONE,
}
_ZEROS = {
    "clear": ZeroedOn.CLEAR, "clear film": ZeroedOn.CLEAR, "film": ZeroedOn.CLEAR,
    "base": ZeroedOn.CLEAR, "film base": ZeroedOn.CLEAR, "air": ZeroedOn.AIR,
}  # fmt: skip
_SHEETS = {kind.value: kind for kind in SheetKind}
_BLANKS = str.maketrans("\t\n\u00a0\u2007\u2009\u202f", "      ")


@dataclass(frozen=True, slots=True)
class ValueReader:
    """Reads the values of one file, as its numbers and dates are written."""

    time_zone: tzinfo
    date_formats: Sequence[str] = ()
    numerals: Numerals = field(default_factory=Numerals)
    conventions: Conventions = OWN

    @classmethod
    def for_site(
        cls,
        declarations: Declarations,
        *,
        commas_seen: bool = False,
        conventions: Conventions = OWN,
    ) -> ValueReader:
        """Return a reader that knows what the site declares about all its files."""
        numerals = Numerals(
            declarations.decimal_mark, declarations.thousands_marks, commas_seen=commas_seen
        )
        return cls(declarations.time_zone, declarations.date_formats, numerals, conventions)

    def field(self, name: str, text: str, trace: Trace) -> Value:
        """Return the value of the head field of this name in `FIELDS`."""
        wanted = FIELDS[name]
        if wanted.kind is FieldKind.TEXT:
            return Text(words_of(text), trace)
        if wanted.kind in {FieldKind.MOMENT, FieldKind.DAY}:
            return moment_of(
                text, time_zone=self.time_zone, date_formats=self.date_formats, trace=trace
            )
        if wanted.kind is FieldKind.ZERO:
            return _choice(text, _ZEROS, ("clear", "air"))
        if wanted.kind is FieldKind.SHEET:
            return _choice(text, _SHEETS, tuple(_SHEETS))
        return self._field_number(name, text, trace)

    def _field_number(self, name: str, text: str, trace: Trace) -> Number:
        kind, attribute = FIELDS[name].kind, FIELDS[name].attribute
        value, bound, unit = self.numerals.read(text.translate(_BLANKS))
        unit = unit or self.conventions.units.get(name, "")
        if bound is not Bound.EXACT:
            raise RefusedValueError(
                f"{quoted(text)} is a limit, where one number is wanted", "write the number itself"
            )
        if kind is FieldKind.CELSIUS and unit.casefold() in units.FAHRENHEIT:
            value, unit = (value - 32) / 1.8, ""
        value = _UNITS[kind].to_own(value, unit, text.strip())
        if kind is FieldKind.COUNT and value != int(value):
            raise RefusedValueError(f"{quoted(text)} is not a whole number", "write digits only")
        _refuse_impossible(attribute, value, text)
        return Number(value, text.strip(), trace)

    def reading(self, column: str, text: str, trace: Trace) -> Number:
        """Return the reading in a column of `READINGS`; it may be a bound."""
        value, bound = self.numerals.usual(text), Bound.EXACT
        if value is None or self.conventions is not OWN:
            value, bound = self._converted(column, text)
        attribute = READINGS[column]
        low, high = PLAUSIBLE[attribute]
        if not low <= value <= high:
            _refuse_impossible(attribute, value, text)
        return Number(value, text, trace, bound)

    def _converted(self, column: str, text: str) -> tuple[float, Bound]:
        value, bound, unit = self.numerals.read(text)
        if unit := unit or self.conventions.units.get(column, ""):
            value = _READING_UNITS[column].to_own(value, unit, text)
        if column in {"dot", "transmittance"}:
            self.conventions.refuse_unsure(value, unit, text)
        return self.conventions.applied(column, value, bound)

    def nominal(self, text: str, trace: Trace, *, of_length: bool) -> Number:
        """Return what a patch should be: millimetres for a length, percent for all others."""
        value = self.numerals.usual(text)
        if value is None or self.conventions is not OWN:
            value = self._nominal_converted(text, of_length=of_length)
        _refuse_impossible("length_mm" if of_length else "tint", value, text)
        return Number(value, text, trace)

    def _nominal_converted(self, text: str, *, of_length: bool) -> float:
        value, bound, unit = self.numerals.read(text)
        if bound is not Bound.EXACT:
            raise RefusedValueError(
                f"{quoted(text)} is a limit, no nominal value", "write a number"
            )
        if unit := unit or (self.conventions.units.get("nominal", "") if of_length else ""):
            table = units.PATCH_LENGTH if of_length else units.PERCENT
            value = table.to_own(value, unit, text)
        if not of_length:
            self.conventions.refuse_unsure(value, unit, text)
        return value


def unit_table(name: str) -> UnitTable | None:
    """Return the units that a field or column of this name may carry, None when it carries none."""
    if name in _READING_UNITS:
        return _READING_UNITS[name]
    if name == "nominal":
        return units.PATCH_LENGTH
    return _UNITS.get(FIELDS[name].kind) if name in FIELDS else None


def words_of(text: str) -> str:
    """Return a name as written, in one line and one Unicode form; refuse characters nobody sees."""
    if text.isascii() and text.isprintable():
        return text.strip()
    line = " ".join(unicodedata.normalize("NFC", text).translate(_BLANKS).split())
    if line.isprintable():
        return line
    hidden = next(sign for sign in line if not sign.isprintable())
    raise RefusedValueError(
        f"{quoted(line)} has a character that is not seen (U+{ord(hidden):04X})", "type it anew"
    )


def _choice(text: str, known: Mapping[str, Choice], offered: tuple[str, ...]) -> Choice:
    word = " ".join(text.casefold().replace("_", " ").split())
    if word in known:
        return known[word]
    raise RefusedValueError(
        f"{quoted(text.strip())} is not known here; {did_you_mean(word, offered)}",
        "write " + " or ".join(offered),
    )


def _refuse_impossible(attribute: str, value: float, text: str) -> None:
    low, high = PLAUSIBLE[attribute]
    if low <= value <= high:
        return
    name, _, unit = attribute.replace("_", " ").rpartition(" ")
    if attribute in {"density", "separations", "tint"}:
        name, unit = attribute, ""
    unit = {"percent": "%", "c": "°C"}.get(unit, unit)
    raise RefusedValueError(
        f"{quoted(text.strip())} is no possible {name}: "
        f"it lies outside {low:g} to {high:g} {unit}".rstrip(),
        "look whether the value stands in the right column and unit, and read the patch again",
    )
