"""A review on a terminal: what it means first, then the readings that say so, then the reasons."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from gatekeeper.control.chart_facts import chart_of
from gatekeeper.show.chart_text import ASCII, DRAWN, chart_lines
from gatekeeper.show.lines import WIDTH, table, wrapped
from gatekeeper.show.moments import moment
from gatekeeper.show.screen import words
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import tzinfo

    from rich.console import Console

    from gatekeeper.control.chart_facts import ChartFacts, ChartPoint, ChartStretch
    from gatekeeper.control.review import Review, RoomReview
    from gatekeeper.control.shares import Share
    from gatekeeper.control.trend import Trend
    from gatekeeper.control.yields import Yield
    from gatekeeper.measures.capability import Bounds, Capability
    from gatekeeper.show.chart_text import Marks

NEWEST = 12
"""Readings of a series that are listed."""

_REASONS = 8
_LOTS = 8


def print_review(
    console: Console, review: Review, zone: tzinfo, *, everything: bool = False
) -> None:
    """Print a review.

    Parameters
    ----------
    zone : the site's, in which moments are given
    everything : list the readings of quiet series too
    """
    marks = ASCII if console.options.ascii_only else DRAWN
    for line in review_lines(review, zone, everything=everything, marks=marks):
        console.print(words(console, line), no_wrap=True, overflow="ignore", crop=False)


def review_lines(
    review: Review, zone: tzinfo, *, everything: bool = False, marks: Marks = ASCII
) -> Iterator[str]:
    """Yield the lines: bad lots, then of each room news, charts, yields and reasons, then lots."""
    bad_lots = [rate.says for rate in review.lots if rate.is_worse]
    for says in bad_lots:
        yield from wrapped(says, WIDTH, first="ACT    ", rest=" " * 7)
    for room in review.rooms:
        if len(review.rooms) > 1:
            yield from ("", plain(room.room), "=" * len(plain(room.room)))
        yield from _says(room, all_quiet="" if bad_lots else "all quiet: ")
        yield from _charts(room, zone, everything=everything, marks=marks)
        yield ""
        yield from _yield(room.came_through)
    if len(review.compared) > 1:
        yield from _lots(review)


def _charts(room: RoomReview, zone: tzinfo, *, everything: bool, marks: Marks) -> Iterator[str]:
    for trend in room.trends:
        if trend.says or everything:
            yield ""
            yield from _chart(trend, zone, marks)
    quiet = sum(not trend.says and _has_limits(trend) for trend in room.trends)
    young = sum(not _has_limits(trend) for trend in room.trends)
    if (quiet or young) and not everything:
        yield ""
        parts = [f"{quiet} quiet"] if quiet else []
        parts += [f"{young} without limits yet"] if young else []
        number = counted(len(room.trends), "series", "series")
        yield f"{' and '.join(parts)} of {number}; --all lists them"


def _lots(review: Review) -> Iterator[str]:
    yield ""
    yield f"film lots in {counted(len(review.compared), 'room')}, the worst first"
    for rate in review.lots[:_LOTS]:
        held = f"{rate.held.part} of {rate.held.whole} jobs held at the first try"
        bounds = f"{100 * rate.held.lower:.0f} to {100 * rate.held.upper:.0f} %"
        yield from wrapped(
            f"{plain(rate.lot, 80)}: {held} ({bounds}), {counted(len(rate.rooms), 'room')}",
            WIDTH,
            first="  ",
            rest="    ",
        )


def _says(room: RoomReview, *, all_quiet: str) -> Iterator[str]:
    if not room.trends:
        yield "no readings that could be charted arrived in this while"
        return
    told = [(trend, says) for trend in room.trends for says in trend.says]
    if not any(map(_has_limits, room.trends)):
        yield "no series has enough readings for control limits yet"
    elif not told:
        yield f"{all_quiet}every series keeps the level that it had in its base period"
    for trend, says in told:
        pressing = trend.is_news and says == trend.says[0]
        mark = "ACT    " if pressing else "watch  "
        yield from wrapped(says, WIDTH, first=mark, rest=" " * len(mark))


def _has_limits(trend: Trend) -> bool:
    return trend.now.base.chart is not None


def _chart(trend: Trend, zone: tzinfo, marks: Marks) -> Iterator[str]:
    facts = chart_of(trend)
    yield facts.title
    yield from wrapped(_tolerance(facts), WIDTH, first="  ", rest="  ")
    yield from wrapped(
        _limits(facts, facts.stretches[trend.stretches.index(trend.now)]),
        WIDTH,
        first="  ",
        rest="  ",
    )
    if trend.capability:
        yield from wrapped(_capability(trend.capability), WIDTH, first="  ", rest="  ")
    drawn = chart_lines(facts, zone, width=WIDTH - 2, marks=marks) if _has_limits(trend) else []
    yield from (f"  {line}".rstrip() for line in drawn)
    newest = list(islice(reversed(facts.points), NEWEST))
    rows = [_row(facts, point, zone) for point in reversed(newest)]
    yield from table(rows, WIDTH, indent="  ")


def _tolerance(facts: ChartFacts) -> str:
    low, high = facts.tolerance_lower, facts.tolerance_upper
    if low is not None and high is not None:
        return f"tolerance {shown(low, facts)} to {shown(high, facts)}"
    if low is not None:
        return f"at least {shown(low, facts)}"
    return f"at most {shown(high, facts)}" if high is not None else "no tolerance set"


def _limits(facts: ChartFacts, stretch: ChartStretch) -> str:
    since = f"since {stretch.because}: " if stretch.because else ""
    if stretch.centre is None or stretch.lower is None or stretch.upper is None:
        return f"{since}no control limits yet ({stretch.note})"
    says = (
        f"{since}level {shown(stretch.centre, facts)}, control limits "
        f"{shown(stretch.lower, facts)} to {shown(stretch.upper, facts)}"
    )
    remarks = ["provisional: few readings"] if stretch.provisional else []
    remarks += [f"its base period is not clean: {stretch.note}"] if stretch.note else []
    return says + (f" ({'; '.join(remarks)})" if remarks else "")


def _capability(fit: Capability) -> str:
    parts = [_index("Cp", fit.cp, fit.cp_bounds), _index("Cpk", fit.cpk, fit.cpk_bounds)]
    parts += [_index("Pp", fit.pp, fit.pp_bounds), _index("Ppk", fit.ppk, fit.ppk_bounds)]
    return ", ".join(part for part in parts if part) + f"  ({fit.confidence:.0%} bounds)"


def _index(name: str, value: float | None, bounds: Bounds | None) -> str:
    if value is None or bounds is None:
        return ""
    return f"{name} {value:.2f} ({bounds.lower:.2f}-{bounds.upper:.2f})"


def _row(facts: ChartFacts, point: ChartPoint, zone: tzinfo) -> tuple[str, ...]:
    return (
        moment(point.when, zone),
        point.job,
        shown(point.value, facts),
        "HELD" if point.held else "",
        ", ".join(point.shows) or ("base period" if point.in_base else ""),
    )


def shown(value: float, facts: ChartFacts) -> str:
    """Return a reading with its unit, as the trade writes it."""
    return f"{value:.1f} %" if facts.unit == "percent" else f"{value:.2f}"


def _yield(found: Yield) -> Iterator[str]:
    yield f"held now          {_share(found.held)}"
    yield f"first-pass yield  {_share(found.first_pass)}"
    if found.concessions:
        yield f"approved under a concession: {counted(found.concessions, 'job')}"
    if found.reasons:
        yield ""
        yield "what held jobs, the most frequent first"
        rows = [
            (reason.rule, counted(reason.jobs, "job"), f"{reason.running:.0%} so far")
            for reason in found.reasons[:_REASONS]
        ]
        yield from table(rows, WIDTH, indent="  ")
        more = len(found.reasons) - _REASONS
        if more > 0:
            yield f"  and {counted(more, 'more reason')}"


def _share(share: Share) -> str:
    if share.fraction is None:
        return "no jobs"
    return (
        f"{share.fraction:.0%} ({share.part} of {share.whole}; "
        f"in the long run {share.lower:.0%} to {share.upper:.0%})"
    )
