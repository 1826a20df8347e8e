"""The keys that rule files may carry, with unit, meaning and which direction is stricter.

All keys are optional here, because a layer may state just one of them; what a complete set of rules
needs is checked on the merged layers in `sense.py`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from gatekeeper.rules.keys import Stricter, limit, section, setting
from gatekeeper.rules.sections import (  # noqa: TC001 -- pydantic looks them up
    Control,
    Decision,
    DensityRange,
    Dot,
    Exposure,
    Inspection,
    Plausibility,
    Remeasuring,
    Size,
    ToneScale,
)
from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    DateField,
    NumberField,
    NumbersField,
    WordField,
    WordsField,
    one_of,
)


class SolidDensity(Block):
    """Solid (image area): must block the lamp's light."""

    min: NumberField | None = limit(
        "density", Stricter.HIGHER, "lowest net density that any solid patch may have"
    )
    max: NumberField | None = limit(
        "density", Stricter.LOWER, "highest net density that any solid patch may have"
    )
    spots: CountField | None = limit("patches", Stricter.HIGHER, "solid patches that must be read")
    spread: NumberField | None = limit(
        "density", Stricter.LOWER, "largest difference between two solid patches"
    )
    slope_max: NumberField | None = limit(
        "density", Stricter.LOWER, "largest change from left to right that is more than scatter"
    )
    slope_significance_percent: NumberField | None = setting(
        "percent", Stricter.HIGHER, "how seldom scatter alone may give a slope that counts"
    )


class ClearDensity(Block):
    """Clear film: must let the lamp's light pass."""

    max: NumberField | None = limit(
        "density", Stricter.LOWER, "highest density of a clear patch over clear film"
    )
    base_max: NumberField | None = limit(
        "density", Stricter.LOWER, "highest density of the clear film itself, over air"
    )
    spots: CountField | None = limit("patches", Stricter.HIGHER, "clear patches that must be read")


class Tint(Block):
    """One step of the tone scale."""

    nominal: NumberField | None = section("the dot that the artwork asks for (percent)")
    tolerance: NumberField | None = limit(
        "percent", Stricter.LOWER, "largest difference between the dot read and the nominal"
    )


class Film(Block):
    """Film stock and its age at the moment of printing."""

    stocks: WordsField | None = limit("", Stricter.SUBSET, "film stocks that may be used")
    max_age_days: NumberField | None = limit("days", Stricter.LOWER, "age since the lot was made")
    max_open_days: NumberField | None = limit(
        "days", Stricter.LOWER, "time since the pack was opened"
    )
    max_days_past_expiry: NumberField | None = limit(
        "days", Stricter.LOWER, "days after the lot's expiry date on which it may still be used"
    )


class Linearization(Block):
    """The tone curve of printer and film."""

    max_age_days: NumberField | None = limit(
        "days", Stricter.LOWER, "time since the printer was linearized"
    )


class Meter(Block):
    """The densitometer and its calibration at the moment of measuring."""

    max_calibration_days: NumberField | None = limit(
        "days", Stricter.LOWER, "time since calibration"
    )
    filters: WordsField | None = limit(
        "", Stricter.SUBSET, "spectral responses (ISO 5-3) that may be used"
    )


class RulingRange(Block):
    """The finest and the coarsest ruling."""

    min: NumberField | None = limit("lpi", Stricter.HIGHER, "coarsest ruling")
    max: NumberField | None = limit("lpi", Stricter.LOWER, "finest ruling")


class Screen(Block):
    """Ruling and resolution of the negative."""

    ruling_lpi: RulingRange | None = section("screen rulings that the plate holds (lpi)")
    resolution_dpi: NumbersField | None = limit(
        "dpi", Stricter.SUBSET, "resolutions that may be used"
    )
    min_grey_levels: NumberField | None = limit(
        "levels", Stricter.HIGHER, "tone steps that resolution and ruling can hold"
    )


class Freshness(Block):
    """Dates of the sheet against each other and against the clock."""

    clock_tolerance_minutes: NumberField | None = limit(
        "minutes", Stricter.LOWER, "how far in the future a sheet may be dated"
    )
    max_days_after_printing: NumberField | None = limit(
        "days", Stricter.LOWER, "time between printing and measuring"
    )


class Limits(Block):
    """Every rule family; a customer, a floor or a workflow states those that it cares for."""

    required: WordsField | None = limit(
        "", Stricter.PRESENT, "fields of the sheet's head that must be filled in"
    )
    solid_density: SolidDensity | None = section("density of the solid")
    clear_density: ClearDensity | None = section("density of clear film")
    density_range: DensityRange | None = section("solid over clear film")
    tints: list[Tint] | None = section("dots of the tone scale")
    dot: Dot | None = section("the meter's own dot, and how dots are computed")
    tone_scale: ToneScale | None = section("the tints beside each other")
    exposure: Exposure | None = section("what plate and lamp ask of the solid")
    size: Size | None = section("distances between marks")
    film: Film | None = section("film stock and age")
    linearization: Linearization | None = section("age of the tone curve")
    meter: Meter | None = section("the densitometer")
    screen: Screen | None = section("ruling and resolution")
    inspection: Inspection | None = section("what eye and hand found on the film")
    plausibility: Plausibility | None = section("readings that cannot be")
    freshness: Freshness | None = section("dates of the sheet")
    remeasuring: Remeasuring | None = section("measurements of one negative")
    control: Control | None = section("the printer under its control charts")
    decision: Decision | None = section("what the meter's doubt means for the decision")


ReadingField = Annotated[str, one_of("negative", "positive")]
DotFromField = Annotated[str, one_of("either", "densities", "meter")]


class Change(Limits):
    """Limits that hold from a date, until one, or between two."""

    effective_from: DateField | None = Field(default=None, description="day on which they begin")
    until: DateField | None = Field(default=None, description="last day on which they hold")


class DatedLimits(Limits):
    """Limits, and how they change on a date without anyone there."""

    changes: list[Change] | None = Field(
        default=None, description="limits laid over these ones while their dates hold"
    )


class WorkflowFile(DatedLimits):
    """workflows/<name>.yaml: one route to a plate."""

    workflow: WordField = Field(description="name of the workflow, and of its drop folder")
    title: WordField | None = Field(default=None, description="what people call it")
    reading: ReadingField = Field(
        description="negative: the clear area prints; positive: the black area prints"
    )
    dot_from: DotFromField = Field(
        default="either",
        description="densities: dots are computed; meter: the meter's own dot; "
        "either: what the sheet gives",
    )


class JobTicketFile(Limits):
    """A file of the sheet's stem, dropped beside it: tighter limits for this job only."""

    job: WordField | None = Field(
        default=None, description="the job that is meant; a ticket for another job holds the job"
    )


class CustomerFile(Block):
    """customers/<name>.yaml: what a customer asks on top of one, some or all workflows."""

    customer: WordField = Field(description="name of the customer, as sheets write it")
    all_workflows: DatedLimits | None = Field(default=None, description="limits for every workflow")
    workflows: dict[str, DatedLimits] = Field(
        default_factory=dict, description="limits for one workflow, by its name"
    )
