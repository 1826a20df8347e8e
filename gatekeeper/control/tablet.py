"""Readings of a meter's reference tablet: which step, what was read, what is certified.

Units    densities, ISO 5 log10 units, over the zero that the tablet's certificate states.
Rule     a row names its step in `where` (or in a column `name`); matching by the nearest value
         would hide just the error that a check is there to find.
Pure     no file, no clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.checks.measured import raw_density
from gatekeeper.measures.uncertainty import en_number
from gatekeeper.sheet import Bound
from gatekeeper.wording import fold, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from gatekeeper.register.models import MeterEntry
    from gatekeeper.sheet import Negative, Patch


@dataclass(frozen=True, slots=True)
class TabletReading:
    """One reading of one step.

    Attributes
    ----------
    en : deviation over the combined expanded uncertainties of meter and tablet, ISO 13528;
        between -1 and 1 the two agree within what they claim
    """

    step: str
    density: float
    certified: float
    en: float

    @property
    def deviation(self) -> float:
        """What the meter reads more than is certified."""
        return self.density - self.certified

    @property
    def agrees(self) -> bool:
        """Whether meter and tablet agree within what they claim."""
        return abs(self.en) <= 1.0


@dataclass(frozen=True, slots=True)
class PastCheck:
    """One check of a meter, held against what is certified now."""

    at: datetime
    passed: bool
    readings: tuple[TabletReading, ...]

    @property
    def worst(self) -> TabletReading | None:
        """The reading that is furthest off for what meter and tablet claim."""
        return max(self.readings, key=lambda reading: abs(reading.en), default=None)


def step_of(patch: Patch) -> str:
    """Return the step that a row names, empty where it names none."""
    return patch.where or patch.name


def unusable(negative: Negative, meter: MeterEntry) -> Iterator[tuple[Patch, str]]:
    """Yield each row that says nothing about a step, and why."""
    known = {fold(step) for step in meter.tablet}
    for patch in negative.patches:
        read = raw_density(patch)
        if not step_of(patch):
            yield patch, "the row does not say which step of the tablet it is"
        elif fold(step_of(patch)) not in known:
            yield patch, f"the tablet has no step {quoted(step_of(patch))}"
        elif read is None:
            yield patch, f"step {quoted(step_of(patch))} has no density"
        elif read[1] is not Bound.EXACT:
            yield patch, f"step {quoted(step_of(patch))} is beyond the meter's range"


def tablet_readings(
    negative: Negative, meter: MeterEntry, *, uncertainty: float, tablet_uncertainty: float
) -> tuple[TabletReading, ...]:
    """Return the readings that can be compared, in the order read.

    Parameters
    ----------
    uncertainty, tablet_uncertainty : expanded (k = 2), of a reading and of the certified values;
        not both 0
    """
    certified = {fold(step): (step, value) for step, value in meter.tablet.items()}
    found = []
    for patch in negative.patches:
        read = raw_density(patch)
        if fold(step_of(patch)) not in certified or read is None or read[1] is not Bound.EXACT:
            continue
        step, value = certified[fold(step_of(patch))]
        en = float(en_number(read[0], value, uncertainty, tablet_uncertainty))
        found.append(TabletReading(step, read[0], value, en))
    return tuple(found)
