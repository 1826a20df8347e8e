"""A meter check: whether the meter reads its reference tablet as certified.

Asks     every step of the tablet in the register, each reading within the combined uncertainty of
         meter and tablet: an E_n number from -1 to 1.
Source   ISO 13528:2022, 9.7 (from memory); yearly calibration and a daily or weekly check on a
         tablet are common practice.
Pure     no file, no clock.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from gatekeeper.checks.advice import (
    ASK_NAME,
    CALIBRATE,
    CHECK_SHEET,
    FILL_IN,
    OTHER_METER,
    ZERO_AIR,
)
from gatekeeper.control.answers import Figures, held, passed
from gatekeeper.control.tablet import tablet_readings, unusable
from gatekeeper.verdict import Status, Step
from gatekeeper.wording import did_you_mean, fold, listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.control.tablet import TabletReading
    from gatekeeper.control.wedge import Room
    from gatekeeper.register.models import MeterEntry
    from gatekeeper.sheet import Negative
    from gatekeeper.verdict import Finding

METER: Final = "meter_check.meter"
TABLET: Final = "meter_check.tablet"
READ: Final = "meter_check.read"
AGREES: Final = "meter_check.agrees"
CHECK_RULES: Final = (METER, TABLET, READ, AGREES)
"""What must pass for a good check."""

READ_AGAIN: Final = Step(
    33,
    "Clean the tablet with a soft dry brush, let the meter warm up, zero it, and check once more: "
    "a second check that passes lifts the doubt.",
)
LOOK_AT_JOBS: Final = Step(
    52, "Look at the jobs that this meter has passed since its last good check: meters doubt."
)


def judge_check(negative: Negative, room: Room) -> tuple[list[Finding], tuple[Status, ...]]:
    """Return the findings about a check, and the line that sums it up."""
    meter, finding = known_meter(negative, room, METER)
    if meter is None:
        return [finding], ()
    findings = [finding, *_tablet(negative, meter)]
    if any(entry.do for entry in findings):
        return findings, ()
    readings = tablet_readings(
        negative,
        meter,
        uncertainty=meter.uncertainty or 0.0,
        tablet_uncertainty=meter.tablet_uncertainty or 0.0,
    )
    findings += _read(meter, readings)
    findings += _agrees(readings)
    worst = max(readings, key=lambda reading: abs(reading.en), default=None)
    if worst is None:
        return findings, ()
    says = (
        f"{plain(negative.meter.value if negative.meter else '')}: worst on step "
        f"{plain(worst.step)}, {worst.density:.3f} where {worst.certified:.3f} is certified "
        f"(E_n {worst.en:+.2f})"
    )
    return findings, (Status("meter", says),)


def known_meter(negative: Negative, room: Room, rule: str) -> tuple[MeterEntry | None, Finding]:
    """Return the meter that a sheet names, None if it cannot be used, and the finding about it."""
    named = negative.meter
    if named is None:
        says = "the sheet does not say which meter this is"
        return None, held(rule, says, do=(FILL_IN,))
    entry = room.register.meter(named.value)
    if entry is None:
        near = did_you_mean(named.value, room.register.meters)
        says = f"the meter {quoted(named.value)} is not in the register; {near}"
        return None, held(rule, says, do=(ASK_NAME,), trace=named.trace)
    if negative.filter and entry.filter and fold(negative.filter.value) != fold(entry.filter):
        says = (
            f"read through {quoted(negative.filter.value)}, but the register has "
            f"{quoted(entry.filter)} for this meter: the tablet's values are for that one"
        )
        return None, held(rule, says, do=(CHECK_SHEET,), trace=negative.filter.trace)
    return entry, passed(rule, "the meter is in the register")


def _tablet(negative: Negative, meter: MeterEntry) -> Iterator[Finding]:
    lacks = [
        what
        for what, value in (
            ("certified values (`tablet`)", meter.tablet),
            ("their uncertainty (`tablet_uncertainty`)", meter.tablet_uncertainty is not None),
            ("the meter's own (`uncertainty`)", meter.uncertainty is not None),
        )
        if not value
    ]
    if lacks:
        says = f"the register lacks what a check is held against: {listing(lacks)}"
        yield held(TABLET, says, do=(ASK_NAME,))
    elif not (meter.uncertainty or meter.tablet_uncertainty):
        yield held(TABLET, "meter and tablet claim no uncertainty at all", do=(ASK_NAME,))
    else:
        yield passed(TABLET, "certified values are on record")
    for patch, says in unusable(negative, meter) if meter.tablet else ():
        yield held(READ, says, do=(CHECK_SHEET,), trace=patch.trace)


def _read(meter: MeterEntry, readings: tuple[TabletReading, ...]) -> Iterator[Finding]:
    missing = [step for step in meter.tablet if step not in {reading.step for reading in readings}]
    if missing:
        says = f"steps of the tablet were not read: {listing(missing)}"
        figures = Figures(len(meter.tablet) - len(missing), len(meter.tablet), "steps")
        yield held(READ, says, do=(READ_AGAIN,), figures=figures)
    else:
        yield passed(READ, f"every step was read: {listing(meter.tablet)}")


def _agrees(readings: tuple[TabletReading, ...]) -> Iterator[Finding]:
    for reading in readings:
        figures = Figures(abs(reading.en), 1.0, "", reading.step)
        if not reading.agrees:
            says = (
                f"step {plain(reading.step)} reads {reading.density:.3f}, certified "
                f"{reading.certified:.3f}: off by {reading.deviation:+.3f}, more than both "
                "uncertainties allow"
            )
            do = (ZERO_AIR, READ_AGAIN, OTHER_METER, CALIBRATE, LOOK_AT_JOBS)
            yield held(AGREES, says, do=do, figures=figures)
    if readings and all(reading.agrees for reading in readings):
        worst = max(readings, key=lambda reading: abs(reading.en))
        says = "the meter agrees with its tablet within what both claim"
        yield passed(AGREES, says, figures=Figures(abs(worst.en), 1.0, "", worst.step))
