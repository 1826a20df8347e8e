"""The keys of register files."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from gatekeeper.yamlfiles.fields import Block, DateField, NumberField, NumbersField, WordField


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
    note: WordField | None = Field(default=None, description="anything a person should know")

    @model_validator(mode="after")
    def _dates_in_order(self) -> Self:
        """Refuse a lot that was opened or expired before it was made."""
        for name, day in (
            ("opened", self.opened),
            ("expires", self.expires),
            ("received", self.received),
        ):
            if self.made and day and day < self.made:
                what = f"{name} {day} is before made {self.made}"
                context = {
                    "name": "dates-cross",
                    "what": what,
                    "do": "correct one of the two dates",
                }
                raise PydanticCustomError("gatekeeper", "{what}", context)
        return self


class PrinterEntry(Block):
    """One film printer."""

    resolution_dpi: NumbersField | None = Field(
        default=None, description="resolutions it prints (dpi)"
    )
    note: WordField | None = Field(default=None, description="anything a person should know")


class CurveEntry(Block):
    """One linearization that was accepted for use."""

    workflow: WordField
    printer: WordField
    stock: WordField
    linearized: DateField = Field(description="day from which the curve is in use")
    name: WordField | None = Field(default=None, description="what sheets call it")


class RegisterFile(Block):
    """Any file in register/: each may hold any of these blocks."""

    meters: dict[str, MeterEntry] = Field(default_factory=dict)
    stocks: dict[str, StockEntry] = Field(default_factory=dict)
    lots: dict[str, LotEntry] = Field(default_factory=dict)
    printers: dict[str, PrinterEntry] = Field(default_factory=dict)
    curves: list[CurveEntry] = Field(default_factory=list)
