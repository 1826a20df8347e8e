"""A meter study: how far readings depend on the meter and on the hand that holds it.

Asks     several films (or steps of a tablet), each read by two hands or more, each hand the same
         number of times: a block for each operator, the film named in `where`.
Source   analysis of variance as in `measures.study` ([MSA], AIAG 4th edition).
Pure     no file, no clock.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from gatekeeper.checks.advice import CHECK_SHEET, MEASURE_AGAIN
from gatekeeper.checks.measured import raw_density
from gatekeeper.control.answers import Figures, held, note, passed
from gatekeeper.control.meter_check import known_meter
from gatekeeper.control.tablet import step_of
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.study import gauge_study
from gatekeeper.sheet import Bound
from gatekeeper.verdict import Status
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.control.wedge import Room
    from gatekeeper.measures.study import GaugeStudy
    from gatekeeper.register.models import MeterEntry
    from gatekeeper.sheet import Negative
    from gatekeeper.verdict import Finding

METER: Final = "meter_study.meter"
ROWS: Final = "meter_study.rows"
CROSSED: Final = "meter_study.crossed"
STUDY_RULES: Final = (METER, ROWS, CROSSED)
"""What must pass for a study that says something."""

WANTED_CATEGORIES: Final = 5
"""[MSA]: with fewer the meter tells the films of the study apart too poorly to watch a process."""

COVERAGE: Final = 2.0

Row = tuple[str, str, float]


def judge_study(
    negatives: Sequence[Negative], room: Room
) -> tuple[list[Finding], tuple[Status, ...]]:
    """Return the findings about a study, and the lines that sum it up."""
    meter, finding = known_meter(negatives[0], room, METER)
    if meter is None:
        return [finding], ()
    rows, refused = _rows(negatives)
    if refused:
        return [finding, *refused], ()
    findings = [finding, passed(ROWS, f"{counted(len(rows), 'reading')} could be used")]
    try:
        study = gauge_study(rows)
    except MeasureError as error:
        says = f"the study does not cross films and hands evenly: {error.problem}"
        return [*findings, held(CROSSED, says, do=(MEASURE_AGAIN, CHECK_SHEET))], ()
    findings.append(
        passed(
            CROSSED,
            f"the meter tells {study.distinct_categories} kinds of film apart",
            figures=Figures(study.distinct_categories, None, "categories"),
        )
    )
    if study.distinct_categories < WANTED_CATEGORIES:
        says = (
            f"{WANTED_CATEGORIES} categories or more are wanted: take films that differ more, or "
            "look for what makes readings scatter"
        )
        findings.append(note("meter_study.categories", says))
    return findings, tuple(_sums(study, meter))


def expanded_uncertainty(study: GaugeStudy, certificate: float | None) -> float:
    """Return the expanded uncertainty (k = 2) of a reading in this room.

    Parameters
    ----------
    certificate : expanded uncertainty of the calibration; None where it is not known

    Notes
    -----
    Root sum of squares of the calibration and of 2 standard deviations of meter and hands, GUM.
    """
    return math.hypot(COVERAGE * study.gauge_sd, certificate or 0.0)


def _rows(negatives: Sequence[Negative]) -> tuple[list[Row], list[Finding]]:
    rows: list[Row] = []
    refused: list[Finding] = []
    for negative in negatives:
        hand = negative.operator.value if negative.operator else ""
        if not hand:
            says = "a block of readings does not say whose hand it was: write `operator,…` above it"
            refused.append(held(ROWS, says, do=(CHECK_SHEET,)))
            continue
        for patch in negative.patches:
            read = raw_density(patch)
            if not step_of(patch) or read is None or read[1] is not Bound.EXACT:
                says = "a row has no density, or does not name its film in `where`"
                refused.append(held(ROWS, says, do=(CHECK_SHEET,), trace=patch.trace))
            else:
                rows.append((step_of(patch), hand, read[0]))
    return rows, refused


def _sums(study: GaugeStudy, meter: MeterEntry) -> Iterator[Status]:
    yield Status(
        "meter",
        f"repeatability {study.repeatability_sd:.4f}, from hand to hand "
        f"{study.reproducibility_sd:.4f}, from film to film {study.part_sd:.4f} "
        "(standard deviations, density)",
    )
    both = expanded_uncertainty(study, meter.uncertainty)
    alone = expanded_uncertainty(study, None)
    says = f"uncertainty (k = 2) of a reading: ±{alone:.3f} by this study"
    if meter.uncertainty:
        says += f", ±{both:.3f} together with the ±{meter.uncertainty:g} of the register"
    yield Status("meter", says)
