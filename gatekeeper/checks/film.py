"""Film: the stock must be one that the workflow may use, and in date when the negative was printed.

Why    old or long-opened film takes ink unevenly and shrinks; a wrong stock has another density and
       another size.
Keys   film: stocks (allowed), max_age_days (since made), max_open_days (since opened),
       max_days_past_expiry. Dates come from register/films.yaml by the lot on the sheet; rooms
       without that register give them on the sheet. A lot that a register does not know holds the
       job whether a key asks or not.
Source common practice; the supplier's label for the date of expiry.
Pass   max_open_days 90; lot opened on 2 November, printed on the 20th: 18 days.
Held   the same lot, printed on 20 March: 138 days open.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, FILL_IN, FRESH_FILM, REPRINT
from gatekeeper.checks.ages import disagreement, judge_age, outranking
from gatekeeper.checks.interface import Subject, answer, answers, aside
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from gatekeeper.register.models import LotEntry
    from gatekeeper.rules.effective import Limit

NAME = "film"

_STALE = (FRESH_FILM, REPRINT)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer stocks, ages and expiry, and say where sheet and register disagree."""
    yield from _unknown(subject)
    yield from answers(subject, NAME, _ANSWERS)
    lot = _lot(subject)
    if lot and subject.rules.under(NAME):
        made, opened = subject.negative.film_made, subject.negative.film_opened
        yield from disagreement(subject, "film.made", "film made", lot.made, made)
        yield from disagreement(subject, "film.opened", "film opened", lot.opened, opened)


def _lot(subject: Subject) -> LotEntry | None:
    named = subject.negative.film_lot
    return subject.register.lot(named.value) if named else None


def _unknown(subject: Subject) -> Iterator[Finding]:
    named = subject.negative.film_lot
    if named is None or not subject.register.lots or _lot(subject):
        return
    near = did_you_mean(named.value, subject.register.lots)
    says = f"the film lot {quoted(named.value)} is not in the register; {near}"
    yield aside(
        subject,
        "film.known",
        Outcome.HOLD,
        says,
        measured=plain(named.value),
        trace=named.trace,
        do=(ASK_NAME,),
    )


def _stock(subject: Subject, limit: Limit) -> Finding:
    lot = _lot(subject)
    if lot is None:
        says = "the stock cannot be judged: the sheet names no film lot that the register knows"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    if lot.stock.casefold() in {word.casefold() for word in limit.words}:
        says = "the film stock may be used"
        return answer(subject, limit, Outcome.PASS, says, measured=lot.stock)
    says = f"the film stock {quoted(lot.stock)} is not one of this workflow's"
    return answer(subject, limit, Outcome.HOLD, says, measured=lot.stock, do=_STALE)


def _age(subject: Subject, limit: Limit) -> Finding:
    lot = _lot(subject)
    made = outranking(subject, lot.made if lot else None, subject.negative.film_made)
    return _days(subject, limit, made, "the film was made")


def _open(subject: Subject, limit: Limit) -> Finding:
    lot = _lot(subject)
    opened = outranking(subject, lot.opened if lot else None, subject.negative.film_opened)
    return _days(subject, limit, opened, "the pack was opened")


def _days(subject: Subject, limit: Limit, since: date | None, what: str) -> Finding:
    if since is None:
        says = f"it is not known when {what}: neither the register nor the sheet says"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    printed, when = subject.printed_at()
    return judge_age(
        subject, limit, since=since, until=printed.date(), what=what, when=when, do=_STALE
    )


def _expiry(subject: Subject, limit: Limit) -> Finding:
    lot = _lot(subject)
    if lot is None or lot.expires is None:
        return _without_expiry(subject, limit)
    printed, when = subject.printed_at()
    past = (printed.date() - lot.expires).days
    if past <= limit.number:
        says = f"the film expires on {lot.expires}; it was {printed.date()} {when}"
        return answer(subject, limit, Outcome.PASS, says, measured=float(max(past, 0)))
    says = f"the film expired on {lot.expires}, {past} days before {printed.date()}, {when}"
    return answer(
        subject, limit, Outcome.HOLD, says, measured=float(past), off=past - limit.number, do=_STALE
    )


def _without_expiry(subject: Subject, limit: Limit) -> Finding:
    if subject.rules.limit(NAME, "max_age_days"):
        says = "no expiry date is on record; the film's age is judged instead"
        return answer(subject, limit, Outcome.PASS, says, measured="no date")
    says = "no expiry date is on record, and no rule judges the film's age instead"
    return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(ASK_NAME,))


_ANSWERS = {
    "stocks": _stock,
    "max_age_days": _age,
    "max_open_days": _open,
    "max_days_past_expiry": _expiry,
}
