"""Freshness: the dates of the sheet must agree with each other and with the clock.

Why    readings dated tomorrow, or before the film was printed, belong to another negative or to a
       wrong clock.
Keys   freshness: clock_tolerance_minutes (built in: 10), max_days_after_printing. Readings dated
       before the printing hold whether a key asks or not.
Source common practice.
Pass   printed 09:40, measured 10:05, arrived 10:07.
Held   measured 09:10, printed 09:40; or measured tomorrow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CHECK_SHEET, FILL_IN, MEASURE_AGAIN
from gatekeeper.checks.compare import at_most
from gatekeeper.checks.interface import Subject, answer, answers, aside, outcome_of
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Moment

NAME = "freshness"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer clock tolerance and time since printing; hold what was measured before it existed."""
    yield from answers(subject, NAME, _ANSWERS)
    printed, measured = subject.negative.printed, subject.negative.measured
    if printed and measured and _is_before(subject, measured, printed):
        says = (
            f"measured {plain(measured.written)}, but printed {plain(printed.written)}: "
            "these readings are of another film"
        )
        do = (CHECK_SHEET, MEASURE_AGAIN)
        yield aside(subject, "freshness.order", Outcome.HOLD, says, trace=measured.trace, do=do)


def _is_before(subject: Subject, first: Moment, second: Moment) -> bool:
    """Compare instants, or calendar days where one of the two is a bare date."""
    if first.has_time and second.has_time:
        return first.instant < second.instant
    zone = subject.time_zone
    return first.instant.astimezone(zone).date() < second.instant.astimezone(zone).date()


def _not_ahead(subject: Subject, limit: Limit) -> Finding:
    printed, measured = subject.negative.printed, subject.negative.measured
    named = (("printed", printed), ("measured", measured))
    dated = [(name, moment) for name, moment in named if moment]
    if not dated:
        says = "the sheet gives no date; the moment of its arrival was used"
        return answer(subject, limit, Outcome.PASS, says, measured="no date")
    name, latest = max(dated, key=lambda entry: entry[1].instant)
    ahead = _minutes_ahead(latest.instant, subject.arrived)
    holds = at_most(ahead, limit.number)
    says = "the sheet's dates are not ahead of the clock"
    if not holds:
        arrived = subject.arrived.astimezone(subject.time_zone)
        says = (
            f"{name} {plain(latest.written)} is in the future: "
            f"the sheet arrived {arrived:%Y-%m-%d %H:%M}"
        )
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=max(ahead, 0.0),
        off=ahead - limit.number,
        trace=latest.trace,
        do=(CHECK_SHEET,),
    )


def _minutes_ahead(moment: datetime, clock: datetime) -> float:
    return (moment - clock).total_seconds() / 60.0


def _not_late(subject: Subject, limit: Limit) -> Finding:
    printed, measured = subject.negative.printed, subject.negative.measured
    if printed is None or measured is None:
        says = "the time between printing and measuring needs both dates on the sheet"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN,))
    days = (measured.instant - printed.instant).total_seconds() / 86_400
    holds = at_most(days, limit.number)
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        f"measured {'soon enough' if holds else 'too long'} after printing",
        measured=max(days, 0.0),
        off=days - limit.number,
        do=(MEASURE_AGAIN,),
    )


_ANSWERS = {"clock_tolerance_minutes": _not_ahead, "max_days_after_printing": _not_late}
