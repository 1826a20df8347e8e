"""The keys of register files."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    DateField,
    NumberField,
    NumbersField,
    WordField,
)

WHOLE = 100.0


def _correction(steps: tuple[float, ...]) -> tuple[float, ...]:
    """Refuse what cannot be a curve: it must keep 0 and 100 and never fall."""
    if len(steps) > 1 and (steps[0], steps[-1]) == (0.0, WHOLE):
        if all(before <= after for before, after in pairwise(steps)):
            return steps
        what = "the correction falls somewhere between 0 and 100"
    else:
        what = "the correction does not run from 0 to 100"
    context = {"name": "no-curve", "what": what, "do": "copy the whole table of the curve"}
    raise PydanticCustomError("gatekeeper", "{what}", context)


class MeterEntry(Block):
    """One densitometer."""

    calibrated: DateField = Field(description="day of the last calibration")
    uncertainty: NumberField | None = Field(
        default=None, description="expanded uncertainty of a density reading, k = 2 (density)", ge=0
    )
    filter: WordField | None = Field(
        default=None, description="spectral response as ISO 5-3 names it"
    )
    serial: WordField | None = Field(default=None, description="serial number")
    interval_days: CountField | None = Field(
        default=None, description="time for which its certificate is good (days)"
    )
    tablet: dict[WordField, NumberField] = Field(
        default_factory=dict,
        description="certified densities of its reference tablet, by the names of the steps",
    )
    tablet_uncertainty: NumberField | None = Field(
        default=None, description="expanded uncertainty of those densities, k = 2 (density)", ge=0
    )
    note: WordField | None = Field(default=None, description="anything a person should know")


class StockEntry(Block):
    """One kind of film."""

    kind: WordField = Field(description="ink film or silver film")
    thickness_mil: NumberField | None = Field(default=None, description="thickness (mil)", gt=0)
    note: WordField | None = Field(default=None, description="anything a person should know")


class LotEntry(Block):
    """One lot of film, as it stands on the box."""

    stock: WordField = Field(description="its film stock, from `stocks`")
    made: DateField | None = Field(default=None, description="day of manufacture")
    received: DateField | None = Field(default=None, description="day of delivery")
    opened: DateField | None = Field(default=None, description="day on which the pack was opened")
    expires: DateField | None = Field(
        default=None, description="last day of use by the supplier's label"
    )
    width_mm: NumberField | None = Field(default=None, description="width of the roll (mm)", gt=0)
    length_m: NumberField | None = Field(
        default=None, description="length of the roll when it was new (m)", gt=0
    )
    length_per_film_m: NumberField | None = Field(
        default=None, description="what one negative usually takes of it (m)", gt=0
    )
    note: WordField | None = Field(default=None, description="anything a person should know")


class PrinterEntry(Block):
    """One film printer."""

    resolution_dpi: NumbersField | None = Field(
        default=None, description="resolutions it prints (dpi)"
    )
    head_changed: tuple[DateField, ...] = Field(
        default=(), description="days on which a print head was changed"
    )
    note: WordField | None = Field(default=None, description="anything a person should know")


class CurveEntry(Block):
    """One linearization that was accepted for use."""

    workflow: WordField = Field(description="workflow that it was made for")
    printer: WordField = Field(description="printer, by its name in the register")
    stock: WordField = Field(description="film stock, by its name in the register")
    linearized: DateField = Field(description="day from which the curve is in use")
    name: WordField | None = Field(default=None, description="what sheets call it")
    resolution_dpi: NumberField | None = Field(
        default=None, description="resolution that it is for; left out: every one (dpi)", gt=0
    )
    ruling_lpi: NumberField | None = Field(
        default=None, description="ruling that it is for; left out: every one (lpi)", gt=0
    )
    correction: Annotated[NumbersField, AfterValidator(_correction)] | None = Field(
        default=None,
        description="percent to send for percents asked for, evenly from 0 to 100 (percent)",
    )


class RegisterFile(Block):
    """Any file in register/: each may hold any of these blocks."""

    meters: dict[WordField, MeterEntry] = Field(
        default_factory=dict, description="densitometers, by the names that sheets use"
    )
    stocks: dict[WordField, StockEntry] = Field(
        default_factory=dict, description="kinds of film, by the names that rules use"
    )
    lots: dict[WordField, LotEntry] = Field(
        default_factory=dict, description="lots of film, by the numbers on their boxes"
    )
    printers: dict[WordField, PrinterEntry] = Field(
        default_factory=dict, description="film printers, by the names that sheets use"
    )
    curves: list[CurveEntry] = Field(
        default_factory=list, description="linearizations, old ones included"
    )
