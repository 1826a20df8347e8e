"""Sections of rules beyond the film itself: how the decision is made."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator

from gatekeeper.rules.keys import Stricter, limit, setting
from gatekeeper.signals import QUANTITIES, Sign
from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    NumberField,
    WordsField,
    list_of,
    one_of,
)


class DensityRange(Block):
    """Solid over clear film: what the plate sees of the negative."""

    min: NumberField | None = limit(
        "density", Stricter.HIGHER, "lowest of weakest solid less darkest clear patch"
    )


class Dot(Block):
    """How dots are computed, and how well the meter's own ones agree with that."""

    max_disagreement: NumberField | None = limit(
        "percent", Stricter.LOWER, "largest difference of the meter's own dot from its densities"
    )
    spread_factor: NumberField | None = setting(
        "", Stricter.SAME, "n of Yule and Nielsen in computed dots; 1 is plain area"
    )


class ToneScale(Block):
    """The tints beside each other."""

    min_rise: NumberField | None = limit(
        "percent", Stricter.HIGHER, "what each tint must read above the one before"
    )
    min_cell_dots: NumberField | None = limit(
        "dots", Stricter.HIGHER, "printer dots in a cell of the smallest tint or largest hole"
    )


class Exposure(Block):
    """What plate and lamp ask of the solid, in the light that hardens the plate."""

    min_margin_stops: NumberField | None = limit(
        "stops", Stricter.HIGHER, "factors of two from the light under the solid to the floor dose"
    )
    min_window_stops: NumberField | None = limit(
        "stops", Stricter.HIGHER, "exposures that hold the detail and leave the floor soft"
    )
    max_leak_per_mille: NumberField | None = limit(
        "per mille", Stricter.LOWER, "light that comes through the solid"
    )
    floor_dose_mj_cm2: NumberField | None = setting(
        "mJ/cm2", Stricter.SAME, "dose that first hardens the floor, by the plate's data"
    )
    detail_dose_mj_cm2: NumberField | None = setting(
        "mJ/cm2", Stricter.SAME, "dose that holds the finest detail, by the plate's data"
    )
    main_exposure_mj_cm2: NumberField | None = setting(
        "mJ/cm2", Stricter.SAME, "main exposure that the room gives"
    )


class Size(Block):
    """Distances between marks."""

    tolerance_mm: NumberField | None = limit(
        "mm", Stricter.LOWER, "how far any distance may be off, either way"
    )
    tolerance_per_mille: NumberField | None = setting(
        "per mille", Stricter.LOWER, "what the tolerance grows with the distance"
    )
    min_around: CountField | None = limit(
        "distances", Stricter.HIGHER, "distances around the cylinder that must be read"
    )
    min_across: CountField | None = limit(
        "distances", Stricter.HIGHER, "distances across the cylinder that must be read"
    )
    register_mm: NumberField | None = limit(
        "mm", Stricter.LOWER, "how far the separations of a job may differ in one distance"
    )
    plate_thickness_mm: NumberField | None = setting(
        "mm", Stricter.SAME, "thickness of the whole plate"
    )
    plate_base_mm: NumberField | None = setting(
        "mm", Stricter.SAME, "thickness of the base, which does not stretch"
    )
    repeat_mm: NumberField | None = setting(
        "mm", Stricter.SAME, "circumference at the printing surface"
    )
    shrink_percent: NumberField | None = setting(
        "percent", Stricter.SAME, "what the film is made smaller, both ways"
    )
    reference_temperature_c: NumberField | None = setting(
        "C", Stricter.SAME, "temperature for which the film is made"
    )
    reference_humidity_percent: NumberField | None = setting(
        "percent", Stricter.SAME, "relative humidity for which the film is made"
    )
    growth_ppm_per_c: NumberField | None = setting(
        "ppm", Stricter.SAME, "growth of the film for one degree, by its data sheet"
    )
    growth_ppm_per_percent_rh: NumberField | None = setting(
        "ppm", Stricter.SAME, "growth of the film for one percent of humidity, by its data sheet"
    )
    uncertainty_mm: NumberField | None = setting(
        "mm", Stricter.HIGHER, "expanded uncertainty (k = 2) of one distance read"
    )


class Inspection(Block):
    """What eye and hand found on the film; for each question the answers that may stand."""

    cleaned: WordsField | None = limit("", Stricter.SUBSET, "whether the film was cleaned")
    scratches: WordsField | None = limit("", Stricter.SUBSET, "scratches that were seen")
    pinholes: WordsField | None = limit("", Stricter.SUBSET, "pinholes in the solid")
    emulsion: WordsField | None = limit("", Stricter.SUBSET, "side of the film with the image")
    reads: WordsField | None = limit("", Stricter.SUBSET, "direction in which the film reads")
    min_type_pt: NumberField | None = limit("pt", Stricter.HIGHER, "smallest type on the film")


class Plausibility(Block):
    """Readings that cannot be, whatever the film is like."""

    max_below_zero: NumberField | None = limit(
        "density", Stricter.LOWER, "how far below zero a density may lie"
    )
    max_zero_error: NumberField | None = limit(
        "density", Stricter.LOWER, "clearest patch where the meter was zeroed on clear film"
    )
    max_density: NumberField | None = limit("density", Stricter.LOWER, "what film can have")
    max_length_factor: NumberField | None = limit(
        "times", Stricter.LOWER, "how far a mark distance may lie from its nominal"
    )
    max_identical_spots: CountField | None = limit(
        "patches", Stricter.LOWER, "solid patches that may read alike to the last digit"
    )
    same_readings_days: NumberField | None = limit(
        "days", Stricter.HIGHER, "time within which no other film may read alike throughout"
    )
    same_readings_count: CountField | None = setting(
        "patches", Stricter.LOWER, "patches that tell films apart, for a likeness to be no chance"
    )


def words_of(*words: str) -> Any:  # noqa: ANN401 -- pydantic's own type of a field
    """Return the type of a list whose entries are some of these words."""
    return Annotated[tuple[Annotated[str, one_of(*words)], ...], BeforeValidator(list_of)]


class Control(Block):
    """The printer under its control charts when a film of it is judged."""

    hold_on: words_of(*QUANTITIES) | None = limit(  # type: ignore[valid-type]
        "", Stricter.PRESENT, "quantities whose standing signal holds the job"
    )
    signals: words_of(*Sign) | None = setting(  # type: ignore[valid-type]
        "", Stricter.PRESENT, "signs of the charts that count as a signal"
    )


class Remeasuring(Block):
    """How often one negative may be measured."""

    sign_off_after: CountField | None = limit(
        "measurements", Stricter.LOWER, "measurements of one negative that need no lead's sign-off"
    )


RuleField = Annotated[str, one_of("plain", "guarded")]


class Decision(Block):
    """What the meter's doubt means for the decision."""

    rule: RuleField | None = setting(
        "", Stricter.GUARDED, "plain: readings are compared; guarded: less a part of their doubt"
    )
    guard: NumberField | None = setting(
        "times U", Stricter.HIGHER, "guard band as a multiple of the expanded uncertainty"
    )
