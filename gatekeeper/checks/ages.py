"""Ages in calendar days, as people count them: made on the 1st and printed on the 3rd is two."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CHECK_SHEET
from gatekeeper.checks.compare import at_most
from gatekeeper.checks.interface import Subject, answer, aside, outcome_of
from gatekeeper.verdict import Finding, Outcome, Step

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Moment


def day_of(subject: Subject, moment: Moment | None) -> date | None:
    """Return the calendar day of a date on the sheet, in the site's time zone."""
    return moment.instant.astimezone(subject.time_zone).date() if moment else None


def outranking(subject: Subject, register: date | None, sheet: Moment | None) -> date | None:
    """Return the register's day, the sheet's only where the register has none."""
    return register or day_of(subject, sheet)


def judge_age(
    subject: Subject,
    limit: Limit,
    *,
    since: date,
    until: date,
    what: str,
    when: str,
    do: tuple[Step, ...],
) -> Finding:
    """Answer a limit in days. Something dated later than its use is a contradiction and holds."""
    days = (until - since).days
    if days < 0:
        says = f"{what} on {since}, which is after {until}, {when}: one of the dates is wrong"
        return answer(
            subject, limit, Outcome.HOLD, says, measured=float(days), do=(CHECK_SHEET, *do)
        )
    return answer(
        subject,
        limit,
        outcome_of(holds=at_most(days, limit.number)),
        f"{what} on {since}, {days} days before {until}, {when}",
        measured=float(days),
        off=days - limit.number,
        do=do,
    )


def disagreement(
    subject: Subject, rule: str, what: str, register: date | None, sheet: Moment | None
) -> Iterator[Finding]:
    """Note where sheet and register give two days for one thing; the register decides."""
    stated = day_of(subject, sheet)
    if register is None or stated is None or stated == register:
        return
    says = f"{what}: the sheet says {stated}, the register {register}; the register was used"
    yield aside(subject, rule, Outcome.NOTE, says)
