"""Ages in calendar days, as people count them: made on the 1st, printed on the 3rd, is two days old."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CHECK_SHEET
from gatekeeper.checks.compare import at_most
from gatekeeper.checks.interface import Subject, answer, aside, outcome_of
from gatekeeper.verdict import Finding, Outcome, Step

if TYPE_CHECKING:
    from datetime import date

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Moment


def day_of(subject: Subject, moment: Moment | None) -> date | None:
    """Return the calendar day of a date on the sheet, in the site's time zone."""
    return moment.instant.astimezone(subject.time_zone).date() if moment else None


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
    holds = at_most(days, limit.number)
    says = f"{what} on {since}, {days} days before {until}, {when}"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=float(days),
        off=days - limit.number,
        do=do,
    )


def disagreement(
    subject: Subject, rule: str, what: str, register: date | str | None, sheet: Moment | str | None
) -> Finding | None:
    """Return a note where sheet and register contradict each other; the register decides."""
    if register is None or sheet is None:
        return None
    if isinstance(register, str):
        written = sheet if isinstance(sheet, str) else sheet.written
        same = written.casefold() == register.casefold()
    else:
        day = None if isinstance(sheet, str) else day_of(subject, sheet)
        written, same = str(day), day == register
    if same:
        return None
    says = f"{what}: the sheet says {written}, the register {register}; the register was used"
    return aside(subject, rule, Outcome.NOTE, says)
