"""A slope of the solid across the film, told apart from scatter.

A failing head or lamp makes the solid fall from one side to the other. Three spots often look like
a slope by chance, so the line through them counts only where scatter alone would seldom give one as
steep (least squares and Student's t; `slope_significance_percent` says how seldom).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    CLEAN_HEAD,
    FILL_IN,
    MEASURE_AGAIN,
    READ_ALL,
    REPRINT,
    TURN_FILM,
)
from gatekeeper.checks.doubt import density_u
from gatekeeper.checks.interface import Subject, answer, answer_reading
from gatekeeper.checks.places import positions
from gatekeeper.checks.reading import Range, Reading, compare
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.regression import straight_line
from gatekeeper.sheet import Bound
from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.rules.effective import Limit

SIGNIFICANCE_PERCENT = 5.0

_SLOPING = (CLEAN, MEASURE_AGAIN, TURN_FILM, CLEAN_HEAD, REPRINT, CALL_LEAD)
_UNPLACED = (FILL_IN, READ_ALL, MEASURE_AGAIN)


class Slope(NamedTuple):
    """The straight line through the spots."""

    change: float  # density, from the left-most spot to the right-most one
    p_percent: float  # how often scatter alone would give a slope as steep
    u_factor: float  # uncertainty of the change, as a multiple of that of one reading


def judge_slope(subject: Subject, limit: Limit, read: Sequence[Reading]) -> Finding:
    """Answer how much the solid may change across the film."""
    slope = _slope(read)
    if slope is None:
        says = "a slope needs three solid patches, fully read, each with its place: left to right"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=_UNPLACED)
    u = density_u(subject)
    change = Reading(abs(slope.change), u=None if u is None else u * slope.u_factor)
    compared = compare(change, Range(upper=limit.number, guard=subject.guard))
    significance = subject.rules.number(
        "solid_density", "slope_significance_percent", default=SIGNIFICANCE_PERCENT
    )
    odds = f"scatter alone would do so in {slope.p_percent:.2g} of 100 films"
    if compared.holds:
        says = f"the solid is level from left to right ({odds})"
    elif slope.p_percent > significance:
        says = f"the solid differs from left to right by chance, not by a slope ({odds})"
        compared = compared._replace(holds=True, is_by_chance=True)
    else:
        side = "left to right" if slope.change < 0 else "right to left"
        says = f"the solid falls from {side}: a head or lamp is failing on that side ({odds})"
    return answer_reading(subject, limit, compared, says, do=_SLOPING)


def _slope(read: Sequence[Reading]) -> Slope | None:
    across = positions(reading.where for reading in read)
    if across is None or any(reading.bound is not Bound.EXACT for reading in read):
        return None
    try:
        line = straight_line(across, [reading.value for reading in read])
    except MeasureError:
        return None  # too few spots, or all of them at one place
    width = max(across) - min(across)
    mean = math.fsum(across) / len(across)
    squares = math.fsum((place - mean) ** 2 for place in across)
    return Slope(line.slope * width, 100.0 * line.p_value, width / math.sqrt(squares))
