"""The charts of the page as SVG, drawn from facts: computed is only where a mark stands.

A limit is a line with its name at its end; a reading is a dot, one that signals stands in a diamond
with a number, and the numbers are told in words beside the chart. Equal facts give equal bytes.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.show import svg
from gatekeeper.show.moments import day

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime, tzinfo

    from gatekeeper.control.chart_facts import ChartFacts, ChartPoint
    from gatekeeper.control.tone_facts import ToneFacts

MOST_SIGNALS = 9
"""Signals that are numbered, the newest ones."""

MOST_POINTS = 250
"""Readings that are drawn, the newest ones."""

_SMALL = 12
_NAME_ROOM = 15  # between the names of two limits

# -- control chart --------------------------------------------------------------------------------

_CHART = svg.Frame(740, 320)
_LEFT, _RIGHT, _TOP, _BOTTOM = 56, 500, 14, 276
_CONTROL = "7 4"  # dashes of a control limit; a tolerance is drawn through


def control_svg(facts: ChartFacts, zone: tzinfo) -> str:
    """Return a control chart: readings, limits, tolerance, signals, and the forecast if any."""
    if not facts.points:
        return ""
    facts = _newest(facts)
    across = _time_axis(facts)
    up = svg.axis_around(_heights(facts), _BOTTOM, _TOP)
    body = [
        *_frame(facts, across, up, zone),
        *_tolerance(facts, up),
        *_stretches(facts, across, up),
        *_names(facts, up, zone),
        *_points(facts, across, up),
        *_forecast(facts, across, up),
    ]
    return svg.drawing(_CHART, facts.title, "; ".join(facts.says), "".join(body))


def _newest(facts: ChartFacts) -> ChartFacts:
    """Return the chart of the newest readings: more of them run into one another."""
    points = facts.points[-MOST_POINTS:]
    return replace(facts, points=points) if len(points) < len(facts.points) else facts


def signals(facts: ChartFacts, zone: tzinfo) -> list[tuple[int, str]]:
    """Return the newest readings that signal, numbered as in the chart, each in words."""
    numbered = enumerate(_signalling(facts), start=1)
    return [(number, _signal(point, facts, zone)) for number, point in numbered]


def _signal(point: ChartPoint, facts: ChartFacts, zone: tzinfo) -> str:
    when = day(point.when.astimezone(zone))
    return f"job {point.job}, {when}, {shown(point.value, facts)}: {', '.join(point.shows)}"


def shown(value: float, facts: ChartFacts) -> str:
    """Return a reading with its unit."""
    return f"{value:.1f} %" if facts.unit == "percent" else f"{value:.2f} {facts.unit}"


def _signalling(facts: ChartFacts) -> list[ChartPoint]:
    return [point for point in facts.points if point.shows][-MOST_SIGNALS:]


def _seconds(when: datetime) -> float:
    return when.timestamp()


def _time_axis(facts: ChartFacts) -> svg.Axis:
    moments = [point.when for point in facts.points]
    if facts.forecast:
        ahead = facts.forecast
        moments += [when for when in (ahead.until, ahead.latest) if when]
    first, last = min(moments), max(moments)
    if last - first < timedelta(days=1):
        last = first + timedelta(days=1)
    # A forecast far out would squeeze the readings: it may take half of the chart, no more.
    newest = max(facts.points[-1].when, first + timedelta(days=1))
    last = min(last, newest + (newest - first))
    return svg.Axis(_seconds(first), _seconds(last), _LEFT + 8, _RIGHT - 8)


def _heights(facts: ChartFacts) -> list[float]:
    limits = [facts.tolerance_lower, facts.tolerance_upper]
    for stretch in facts.stretches:
        limits += [stretch.lower, stretch.upper]
    known = [value for value in limits if value is not None]
    return [*known, *(point.value for point in facts.points)]


def _frame(facts: ChartFacts, across: svg.Axis, up: svg.Axis, zone: tzinfo) -> Iterator[str]:
    yield svg.path([(_LEFT, _TOP), (_LEFT, _BOTTOM), (_RIGHT, _BOTTOM)])
    places = 1 if facts.unit == "percent" else 2
    for value in up.ticks():
        y = up(value)
        yield svg.line((_LEFT - 4, y), (_LEFT, y))
        yield svg.words(_LEFT - 7, y + 4, f"{value:.{places}f}", anchor="end", size=_SMALL)
    unit = "%" if facts.unit == "percent" else facts.unit
    yield svg.words(4, _BOTTOM + 36, f"{facts.quantity}, {unit}", size=_SMALL)
    for when in _days(facts, across, zone):
        x = across(_seconds(when))
        yield svg.line((x, _BOTTOM), (x, _BOTTOM + 4))
        yield svg.words(x, _BOTTOM + 18, day(when), anchor="middle", size=_SMALL)
    yield svg.words(_RIGHT, _BOTTOM + 36, "day of printing", anchor="end", size=_SMALL)


def _days(facts: ChartFacts, across: svg.Axis, zone: tzinfo) -> list[datetime]:
    """Return at most seven midnights, evenly apart."""
    first = facts.points[0].when.astimezone(zone)
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    days = int((across.high - across.low) / 86400) + 1
    step = -(-days // 7)
    every = (midnight + timedelta(days=number) for number in range(0, days + 1, step))
    return [when for when in every if across.low <= _seconds(when) <= across.high]


def _tolerance(facts: ChartFacts, up: svg.Axis) -> Iterator[str]:
    for value in (facts.tolerance_lower, facts.tolerance_upper):
        if value is not None:
            yield svg.line((_LEFT, up(value)), (_RIGHT, up(value)), 2.5)


def _stretches(facts: ChartFacts, across: svg.Axis, up: svg.Axis) -> Iterator[str]:
    """Yield control limits and level of each stretch, and a line where the next one begins."""
    ends = [across(_seconds(stretch.began)) for stretch in facts.stretches[1:]] + [_RIGHT]
    for number, (stretch, end) in enumerate(zip(facts.stretches, ends, strict=True)):
        begin = max(across(_seconds(stretch.began)), _LEFT)
        if end <= _LEFT:
            continue  # over before the first reading that is drawn
        if number and begin > _LEFT:
            yield svg.line((begin, _TOP), (begin, _BOTTOM), 1, "1 3")
        for value, dashes in (
            (stretch.upper, _CONTROL),
            (stretch.centre, ""),
            (stretch.lower, _CONTROL),
        ):
            if value is not None:
                yield svg.line((begin, up(value)), (end, up(value)), 1.5 if dashes else 1, dashes)


def _names(facts: ChartFacts, up: svg.Axis, zone: tzinfo) -> Iterator[str]:
    """Yield what each line is called, at its right end, moved apart where lines lie close."""
    free: float = _TOP - _NAME_ROOM
    for place, text in sorted((up(value), text) for value, text in _named(facts, zone)):
        free = max(place, free + _NAME_ROOM)
        yield svg.line((_RIGHT, place), (_RIGHT + 8, free), 0.75)
        yield svg.words(_RIGHT + 11, free + 4, text, size=_SMALL)


def _named(facts: ChartFacts, zone: tzinfo) -> Iterator[tuple[float, str]]:
    last = facts.stretches[-1]
    for value, name in (
        (facts.tolerance_upper, "tolerance, at most"),
        (facts.tolerance_lower, "tolerance, at least"),
        (last.upper, "control limit"),
        (last.centre, "level"),
        (last.lower, "control limit"),
    ):
        if value is not None:
            yield value, f"{name} {shown(value, facts)}"
    ahead = facts.forecast
    if ahead and ahead.until > facts.points[-1].when:
        yield ahead.until_value, f"expected on {day(ahead.until.astimezone(zone))}"


def _points(facts: ChartFacts, across: svg.Axis, up: svg.Axis) -> Iterator[str]:
    for number in range(len(facts.stretches)):
        places = [
            (across(_seconds(point.when)), up(point.value))
            for point in facts.points
            if point.stretch == number
        ]
        yield svg.path(places)
    for point in facts.points:
        place = across(_seconds(point.when)), up(point.value)
        yield svg.cross(*place, 4) if point.held else svg.dot(*place)
    for number, point in enumerate(_signalling(facts), start=1):
        x, y = across(_seconds(point.when)), up(point.value)
        yield svg.diamond(x, y)
        side = 1 if number % 2 else -1  # in turns, so that neighbours stay apart
        anchor = "start" if side > 0 else "end"
        yield svg.words(x + 10 * side, y + 5, str(number), anchor=anchor)


def _forecast(facts: ChartFacts, across: svg.Axis, up: svg.Axis) -> Iterator[str]:
    """Yield the line on which the level is expected to go on, as far as the chart reaches."""
    ahead = facts.forecast
    if ahead is None:
        return
    since = across(_seconds(ahead.since)), up(ahead.since_value)
    until = across(_seconds(ahead.until)), up(ahead.until_value)
    seen = min(until[0], _RIGHT - 8)
    slope = (until[1] - since[1]) / ((until[0] - since[0]) or 1.0)
    yield svg.line(since, (seen, until[1] - slope * (until[0] - seen)), 2.5, "3 5")
    if seen == until[0] and ahead.until > facts.points[-1].when:
        yield svg.ring(*until, 6)


# -- tone curve -----------------------------------------------------------------------------------

_CURVE = svg.Frame(460, 360)
_CURVE_RIGHT = 330


def curve_svg(facts: ToneFacts) -> str:
    """Return what a wedge read, and what tints should read through the curve made from it."""
    across = svg.Axis(0, 100, 50, _CURVE_RIGHT)
    up = svg.Axis(0, 100, 310, 20)
    before = [(across(entry.sent), up(entry.measured)) for entry in facts.readings]
    after = [(across(step.wanted), up(step.predicted)) for step in facts.steps]
    odd = [place for place, entry in zip(before, facts.readings, strict=True) if entry.is_outlier]
    body = [
        *_curve_frame(across, up),
        *(svg.ring(*place) for place in before),
        *(svg.cross(*place, 4) for place in odd),
        svg.path(after, 2),
        *(svg.dot(*place) for place in after),
        *_curve_legend(has_odd=bool(odd)),
    ]
    return svg.drawing(_CURVE, facts.title, curve_says(facts), "".join(body))


def curve_says(facts: ToneFacts) -> str:
    """Return in a sentence what a curve does."""
    return (
        f"mid-tone reads {facts.mid_tone:.1f} % {facts.read_how} and should read "
        f"{facts.mid_tone_predicted:.1f} ± {facts.error:.1f} % through this curve"
    )


def _curve_frame(across: svg.Axis, up: svg.Axis) -> Iterator[str]:
    yield svg.path([(across.begin, up.end), (across.begin, up.begin), (across.end, up.begin)])
    yield svg.line((across.begin, up.begin), (across.end, up.end), 1, "1 3")
    yield svg.words(across.end + 6, up.end + 4, "as asked", size=_SMALL)
    for value in (0, 25, 50, 75, 100):
        yield svg.words(across(value), up.begin + 18, f"{value}", anchor="middle", size=_SMALL)
        yield svg.words(across.begin - 6, up(value) + 4, f"{value}", anchor="end", size=_SMALL)
    yield svg.words(across.end, up.begin + 38, "asked, %", anchor="end", size=_SMALL)
    yield svg.words(4, up.end - 8, "reads, %", size=_SMALL)


def _curve_legend(*, has_odd: bool) -> Iterator[str]:
    """Yield what each mark is, in the order in which they matter."""
    kinds: list[tuple[Callable[[float, float, float], str], str]] = [
        (svg.ring, "wedge, before"),
        (svg.dot, "expected after"),
    ]
    kinds += [(svg.cross, "set aside")] if has_odd else []
    for number, (mark, name) in enumerate(kinds):
        yield mark(_CURVE_RIGHT + 16, 60 + 24 * number, 4)
        yield svg.words(_CURVE_RIGHT + 28, 64 + 24 * number, name, size=_SMALL)
