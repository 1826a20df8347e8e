"""What a control chart draws: numbers and words, ready to be laid out; nothing is computed there.

One chart is one series. Its points stand in the order of printing; each belongs to a stretch, which
has limits of its own. All moments are aware of their zone; all text has passed `wording.plain`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.words import subject_of
from gatekeeper.sheet import PatchKind
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from datetime import datetime

    from gatekeeper.control.base_period import BasePeriod
    from gatekeeper.control.prospect import Prospect
    from gatekeeper.control.trend import Stretch, Trend


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One reading."""

    when: datetime
    value: float
    job: str
    stretch: int  # index of its stretch
    in_base: bool  # it helped to find the limits
    held: bool
    shows: tuple[str, ...]  # what it signals, in words; mark it where there are any


@dataclass(frozen=True, slots=True)
class ChartStretch:
    """Limits that hold from one change of the printer's setup to the next; None: none yet."""

    began: datetime
    ended: datetime
    because: str  # "new curve of 2026-11-10"; empty for the first
    centre: float | None
    lower: float | None
    upper: float | None
    provisional: bool
    note: str  # why there are no limits, or why they should not be trusted far


@dataclass(frozen=True, slots=True)
class ChartForecast:
    """A line from a point of the past to where it meets the tolerance."""

    since: datetime
    since_value: float
    until: datetime
    until_value: float
    earliest: datetime | None
    latest: datetime | None
    is_news: bool


@dataclass(frozen=True, slots=True)
class ChartFacts:
    """One control chart."""

    title: str
    workflow: str
    printer: str
    stock: str
    quantity: str  # "tint 50", "solid", "clear"
    unit: str  # "percent" or "density"
    nominal: float | None
    tolerance_lower: float | None
    tolerance_upper: float | None
    points: tuple[ChartPoint, ...]
    stretches: tuple[ChartStretch, ...]
    forecast: ChartForecast | None
    says: tuple[str, ...]
    is_news: bool


def chart_of(trend: Trend, *, most: int | None = None) -> ChartFacts:
    """Return what to draw of a trend.

    Parameters
    ----------
    most : readings, the newest; None for all
    """
    series = trend.series
    key, quantity = series.key, series.key.quantity
    return ChartFacts(
        title=subject_of(series.key),
        workflow=plain(key.workflow),
        printer=plain(key.printer),
        stock=plain(key.stock),
        quantity=quantity.short,
        unit=quantity.unit,
        nominal=quantity.nominal if quantity.kind == PatchKind.TINT else None,
        tolerance_lower=series.tolerance.lower,
        tolerance_upper=series.tolerance.upper,
        points=_points(trend.stretches, most),
        stretches=tuple(map(_stretch, trend.stretches)),
        forecast=_forecast(trend.prospect, trend.now.segment.points[-1].when),
        says=trend.says,
        is_news=trend.is_news,
    )


def _points(stretches: tuple[Stretch, ...], most: int | None) -> tuple[ChartPoint, ...]:
    places = [
        (point, number, index)
        for number, stretch in enumerate(stretches)
        for index, point in enumerate(stretch.segment.points)
    ]
    places.sort(key=lambda place: place[0].when)
    return tuple(
        ChartPoint(
            when=point.when,
            value=point.value,
            job=plain(point.job),
            stretch=number,
            in_base=_is_in_base(stretches[number].base, index),
            held=point.held,
            shows=tuple(kind.value for kind in stretches[number].seen.at(index)),
        )
        for point, number, index in (places if most is None else places[-most:])
    )


def _is_in_base(base: BasePeriod, index: int) -> bool:
    return base.chart is not None and index < base.readings and index not in base.set_aside


def _stretch(stretch: Stretch) -> ChartStretch:
    chart, points = stretch.base.chart, stretch.segment.points
    return ChartStretch(
        began=points[0].when,
        ended=points[-1].when,
        because=plain(stretch.segment.because, 200),
        centre=chart.centre if chart else None,
        lower=chart.lower if chart else None,
        upper=chart.upper if chart else None,
        provisional=stretch.base.is_provisional,
        note=stretch.base.unclean,
    )


def _forecast(ahead: Prospect | None, last: datetime) -> ChartForecast | None:
    if ahead is None or not ahead.is_sure:
        return None
    until = ahead.crossing if ahead.crossing and ahead.crossing > last else last
    value = ahead.limit if until is ahead.crossing and ahead.limit is not None else ahead.level
    days = (last - ahead.since).total_seconds() / 86400
    return ChartForecast(
        since=ahead.since,
        since_value=ahead.level - ahead.per_day * days,
        until=until,
        until_value=value,
        earliest=ahead.earliest,
        latest=ahead.latest,
        is_news=ahead.is_news,
    )
