"""What was measured: one file of readings as typed values, each with its place in the file.

Units    in the names; densities are ISO 5 log10 units, dots and transmittances percent.
Absent   a value that the file does not give is None; one that it gives and that cannot be used is
         None *and* a `Problem`, so that nothing unreadable passes for absent.
Errors   none: readers raise, this module only holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from typing_extensions import override

if TYPE_CHECKING:
    from datetime import datetime


class SheetKind(StrEnum):
    """What the file is meant for."""

    NEGATIVE = "negative"
    WEDGE = "wedge"
    METER_CHECK = "meter check"
    METER_STUDY = "meter study"
    CONCESSION = "concession"


class PatchKind(StrEnum):
    """What was read at one place on the film."""

    CLEAR = "clear"
    SOLID = "solid"
    TINT = "tint"
    LENGTH = "length"


class ZeroedOn(StrEnum):
    """What the meter was set to zero on: clear film gives net densities, air absolute ones."""

    CLEAR = "clear"
    AIR = "air"


class Bound(StrEnum):
    """Whether a number is the reading itself or only a limit of it (a meter over its range)."""

    EXACT = "exact"
    AT_LEAST = "at least"
    AT_MOST = "at most"


@dataclass(frozen=True, slots=True)
class Trace:
    """Where a value stood: lines and columns count from 1; `cell` is a workbook's name for it."""

    line: int | None = None
    column: int | None = None
    cell: str = ""

    @override
    def __str__(self) -> str:
        """Return the place in words, empty when nothing is known."""
        if self.cell:
            return f"cell {self.cell}"
        if self.line is None:
            return ""
        return f"line {self.line}" + (f", column {self.column}" if self.column else "")


NOWHERE = Trace()


@dataclass(frozen=True, slots=True)
class Text:
    """A word or name as written, outer blanks removed."""

    value: str
    trace: Trace = NOWHERE


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number in the unit of the field that holds it, and the text it came from."""

    value: float
    written: str
    trace: Trace = NOWHERE
    bound: Bound = Bound.EXACT


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant. A bare date is its midnight in the site's time zone, with `has_time` false."""

    instant: datetime
    written: str
    has_time: bool
    trace: Trace = NOWHERE


@dataclass(frozen=True, slots=True)
class Problem:
    """A part of the file that cannot be used: what is wrong, how to mend it, where it stands."""

    says: str
    do: str
    trace: Trace = NOWHERE
    separation: str = ""


@dataclass(frozen=True, slots=True)
class Patch:
    """One row of readings."""

    kind: PatchKind
    nominal: Number | None = None  # percent for a tint, mm for a length
    density: Number | None = None
    dot_percent: Number | None = None
    transmittance_percent: Number | None = None
    length_mm: Number | None = None
    where: str = ""
    name: str = ""
    trace: Trace = NOWHERE  # of the row

    @property
    def read_at(self) -> Trace:
        """Where its reading stood; the row's place where it has several readings, or none."""
        readings = (self.density, self.dot_percent, self.transmittance_percent, self.length_mm)
        places = [reading.trace for reading in readings if reading and reading.trace != NOWHERE]
        return places[0] if len(places) == 1 else self.trace


@dataclass(frozen=True, slots=True)
class Negative:
    """One film: its particulars and its patches. Field names are explained in `FIELDS`."""

    job: Text | None = None
    customer: Text | None = None
    workflow: Text | None = None
    separation: Text | None = None
    separations: Number | None = None
    operator: Text | None = None
    printer: Text | None = None
    film_lot: Text | None = None
    meter: Text | None = None
    curve: Text | None = None
    film_made: Moment | None = None
    film_opened: Moment | None = None
    meter_calibrated: Moment | None = None
    linearized: Moment | None = None
    printed: Moment | None = None
    measured: Moment | None = None
    zeroed_on: ZeroedOn | None = None
    filter: Text | None = None
    ruling_lpi: Number | None = None
    resolution_dpi: Number | None = None
    plate_thickness_mm: Number | None = None
    plate_base_mm: Number | None = None
    repeat_mm: Number | None = None
    shrink_percent: Number | None = None
    temperature_c: Number | None = None
    humidity_percent: Number | None = None
    cleaned: Text | None = None
    scratches: Text | None = None
    pinholes: Text | None = None
    emulsion: Text | None = None
    reads: Text | None = None
    smallest_type_pt: Number | None = None
    note: Text | None = None
    patches: tuple[Patch, ...] = ()

    @property
    def separation_name(self) -> str:
        """The separation as the sheet names it; empty where a job of one negative needs none."""
        return self.separation.value if self.separation else ""

    def patches_of(self, kind: PatchKind) -> tuple[Patch, ...]:
        """Patches of one kind, in the order read."""
        return tuple(patch for patch in self.patches if patch.kind is kind)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One file of readings: every negative in it, what could not be used, and who read it."""

    kind: SheetKind
    negatives: tuple[Negative, ...]
    problems: tuple[Problem, ...] = ()
    notes: tuple[
        str, ...
    ] = ()  # harmless things a person should know: a wrong ending, an ignored column
    read_as: str = ""  # "typed sheet (CSV)", "CGATS.17 text", "profile bench-meter"


class FieldKind(StrEnum):
    """How the text of a field is understood."""

    TEXT = "text"
    MOMENT = "date and time"
    DAY = "date"
    COUNT = "whole number"
    RULING = "ruling with unit"
    RESOLUTION = "resolution with unit"
    LENGTH = "length with unit"
    PERCENT = "percent"
    POINTS = "type size"
    CELSIUS = "temperature"
    ZERO = "clear or air"
    SHEET = "kind of sheet"


@dataclass(frozen=True, slots=True)
class SheetField:
    """One name that a sheet may carry: where it lands in `Negative` and how it is read."""

    attribute: str
    kind: FieldKind


FIELDS: dict[str, SheetField] = {
    "sheet": SheetField("", FieldKind.SHEET),  # the kind of the whole file, not of a negative
    "job": SheetField("job", FieldKind.TEXT),
    "customer": SheetField("customer", FieldKind.TEXT),
    "workflow": SheetField("workflow", FieldKind.TEXT),
    "separation": SheetField("separation", FieldKind.TEXT),
    "separations": SheetField("separations", FieldKind.COUNT),
    "operator": SheetField("operator", FieldKind.TEXT),
    "printer": SheetField("printer", FieldKind.TEXT),
    "film lot": SheetField("film_lot", FieldKind.TEXT),
    "meter": SheetField("meter", FieldKind.TEXT),
    "curve": SheetField("curve", FieldKind.TEXT),
    "film made": SheetField("film_made", FieldKind.DAY),
    "film opened": SheetField("film_opened", FieldKind.DAY),
    "meter calibrated": SheetField("meter_calibrated", FieldKind.DAY),
    "linearized": SheetField("linearized", FieldKind.DAY),
    "printed": SheetField("printed", FieldKind.MOMENT),
    "measured": SheetField("measured", FieldKind.MOMENT),
    "zeroed on": SheetField("zeroed_on", FieldKind.ZERO),
    "filter": SheetField("filter", FieldKind.TEXT),
    "ruling": SheetField("ruling_lpi", FieldKind.RULING),
    "resolution": SheetField("resolution_dpi", FieldKind.RESOLUTION),
    "plate thickness": SheetField("plate_thickness_mm", FieldKind.LENGTH),
    "plate base": SheetField("plate_base_mm", FieldKind.LENGTH),
    "repeat": SheetField("repeat_mm", FieldKind.LENGTH),
    "shrink": SheetField("shrink_percent", FieldKind.PERCENT),
    "temperature": SheetField("temperature_c", FieldKind.CELSIUS),
    "humidity": SheetField("humidity_percent", FieldKind.PERCENT),
    "cleaned": SheetField("cleaned", FieldKind.TEXT),
    "scratches": SheetField("scratches", FieldKind.TEXT),
    "pinholes": SheetField("pinholes", FieldKind.TEXT),
    "emulsion": SheetField("emulsion", FieldKind.TEXT),
    "reads": SheetField("reads", FieldKind.TEXT),
    "smallest type": SheetField("smallest_type_pt", FieldKind.POINTS),
    "note": SheetField("note", FieldKind.TEXT),
}
"""Every field of a sheet's head, by the name an operator types (compared without case)."""

COLUMNS: tuple[str, ...] = (
    "patch", "nominal", "density", "dot", "transmittance", "length", "where",
)  # fmt: skip
"""Every column of a sheet's table."""
