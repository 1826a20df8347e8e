"""What a chart shows, in words for somebody at the bench. Pure.

Days are named in the room's own zone, numbers carry their unit; a sentence ends with what to do.
"""

from __future__ import annotations

from statistics import fmean
from typing import TYPE_CHECKING

from gatekeeper.control.watch import Kind
from gatekeeper.measures.chart import ISO_7870_2, RunTest
from gatekeeper.sheet import PatchKind
from gatekeeper.signals import Sign
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from datetime import datetime, tzinfo

    from gatekeeper.control.followed import FollowedSegment
    from gatekeeper.control.prospect import Prospect
    from gatekeeper.control.series import Point, Quantity, Series, SeriesKey
    from gatekeeper.measures.shewhart import IndividualsChart

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip

_ONE_SIDE, _STEADY = ISO_7870_2[RunTest.ONE_SIDE], ISO_7870_2[RunTest.TREND]

_ADVICE = {
    PatchKind.TINT.value: "print a wedge",
    PatchKind.SOLID.value: "look at ink, head and film before the next job",
    PatchKind.CLEAR.value: "look at the film and how it is stored",
}


def day_name(moment: datetime, zone: tzinfo) -> str:
    """Return a day as people call it: Thursday 26 November."""
    local = moment.astimezone(zone)
    return f"{_WEEKDAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"


def subject_of(key: SeriesKey) -> str:
    """Return what a sentence is about: mid-tone on P1 (matte-5mil, liquid-plate)."""
    place = f"{plain(key.stock)}, {plain(key.workflow)}"
    return f"{key.quantity.title} on {plain(key.printer)} ({place})"


def amount(value: float, quantity: Quantity) -> str:
    """Return a difference with its unit."""
    if quantity.kind == PatchKind.TINT:
        return f"{value:.1f} points"
    return f"{value:.2f} density"


def reading(value: float, quantity: Quantity) -> str:
    """Return a reading with its unit."""
    return f"{value:.1f} %" if quantity.kind == PatchKind.TINT else f"{value:.2f}"


def drift_says(
    series: Series,
    points: Sequence[Point],
    ahead: Prospect,
    centre: float,
    *,
    now: datetime,
    zone: tzinfo,
) -> str:
    """Say that a level drifts towards its tolerance, since when, how far, and when it arrives.

    Parameters
    ----------
    points : the readings since the level began to leave the base period's
    centre : level of the base period
    """
    quantity = series.key.quantity
    days = max(1, round((points[-1].when - points[0].when).total_seconds() / 86400))
    way = "up" if ahead.per_day > 0 else "down"
    moved = amount(abs(ahead.level - centre), quantity)
    says = f"{subject_of(series.key)} has crept {way} {moved} in {counted(days, 'day')}"
    return f"{says}; {_arrival(ahead, quantity, now, zone)}; {_ADVICE[quantity.kind]}"


def _arrival(ahead: Prospect, quantity: Quantity, now: datetime, zone: tzinfo) -> str:
    limit = reading(ahead.limit or 0.0, quantity)
    if ahead.crossing is None or ahead.crossing <= now:
        return f"its level is {reading(ahead.level, quantity)}, at or past the limit of {limit}"
    says = f"expect holds from {day_name(ahead.crossing, zone)}"
    early = max(ahead.earliest, now) if ahead.earliest else now
    if ahead.latest is None:
        return f"{says} (from {day_name(early, zone)} at the earliest)"
    return f"{says} (between {day_name(early, zone)} and {day_name(ahead.latest, zone)})"


def level_says(series: Series, points: Sequence[Point], centre: float, zone: tzinfo) -> str:
    """Say that the level is no longer that of the base period, without an arrival to foretell."""
    quantity = series.key.quantity
    level = fmean(point.value for point in points)
    way = "above" if level > centre else "below"
    moved = amount(abs(level - centre), quantity)
    since = day_name(points[0].when, zone)
    return (
        f"{subject_of(series.key)} has stood {moved} {way} its base period since {since} "
        f"({counted(len(points), 'reading')}): keep an eye on it"
    )


def sign_says(key: SeriesKey, segment: FollowedSegment, sign: Sign, zone: tzinfo) -> str:
    """Say what stands at the newest reading of a segment."""
    subject, quantity = subject_of(key), key.quantity
    chart, newest, gone = segment.chart, segment.newest, segment.excursion
    if chart is None or newest is None:
        return subject
    if sign is Sign.LEVEL and gone.since:
        way = "above" if gone.level > chart.centre else "below"
        moved = amount(abs(gone.level - chart.centre), quantity)
        since = f"since {day_name(gone.since, zone)} ({counted(gone.readings, 'reading')})"
        return f"{subject} has stood {moved} {way} its base period {since}"
    if sign is Sign.ONE_SIDE:
        way = "above" if newest.value > chart.centre else "below"
        level = f"the {reading(chart.centre, quantity)} of its base period"
        return f"{subject}: the last {_ONE_SIDE} films or more all read {way} {level}"
    if sign is Sign.STEADY:
        return f"{subject}: {_STEADY} films in a row, each went on the same way as the one before"
    low, high = reading(chart.lower, quantity), reading(chart.upper, quantity)
    return (
        f"{subject}: job {plain(newest.job)} read {reading(newest.value, quantity)}, outside the "
        f"{low} to {high} that chance alone gives"
    )


def reading_says(
    series: Series, point: Point, kinds: Collection[Kind], chart: IndividualsChart
) -> Iterator[str]:
    """Say what the newest reading shows by itself."""
    quantity = series.key.quantity
    job = f"job {plain(point.job)}"
    if Kind.BEYOND in kinds:
        low, high = reading(chart.lower, quantity), reading(chart.upper, quantity)
        yield (
            f"{subject_of(series.key)}: {job} reads {reading(point.value, quantity)}, outside the "
            f"{low} to {high} that chance alone gives: measure it again"
        )
    elif Kind.JUMP in kinds:
        yield (
            f"{subject_of(series.key)}: {job} lies further from the job before it than chance "
            f"alone gives ({amount(chart.range_upper, quantity)}): measure it again"
        )
