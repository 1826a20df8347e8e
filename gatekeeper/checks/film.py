"""Film: is the stock one that the workflow may use, and was it in date when the negative was printed?

Why    old or long-opened film takes ink unevenly and shrinks; a wrong stock has another density and another size.
Keys   film: stocks (allowed), max_age_days (since made), max_open_days (since opened), max_days_past_expiry.
       Dates come from register/films.yaml by the lot on the sheet; rooms without that register give them on the sheet.
Pass   max_open_days 90; lot opened on 2 November, printed on the 20th: 18 days.
Held   the same lot, printed on 20 March: 138 days open.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, FILL_IN, FRESH_FILM, REPRINT
from gatekeeper.checks.ages import day_of, disagreement, judge_age
from gatekeeper.checks.interface import Subject, answer, aside
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from gatekeeper.register.models import LotEntry
    from gatekeeper.rules.effective import Limit

NAME = "film"

_STALE = (FRESH_FILM, REPRINT)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer stocks, ages and expiry, and say where sheet and register disagree."""
    limits = subject.rules.under(NAME)
    if not limits:
        return
    lot, trouble = _lot(subject)
    if trouble:
        yield trouble
    for limit in limits:
        match limit.path[1]:
            case "stocks":
                yield _stock(subject, limit, lot)
            case "max_age_days":
                made = lot.made if lot and lot.made else day_of(subject, subject.negative.film_made)
                yield _age(subject, limit, made, "the film was made")
            case "max_open_days":
                opened = (
                    lot.opened
                    if lot and lot.opened
                    else day_of(subject, subject.negative.film_opened)
                )
                yield _age(subject, limit, opened, "the pack was opened")
            case "max_days_past_expiry":
                yield _expiry(subject, limit, lot)
    if lot:
        pairs = (
            ("film.made", "film made", lot.made, subject.negative.film_made),
            ("film.opened", "film opened", lot.opened, subject.negative.film_opened),
        )
        for rule, what, register, sheet in pairs:
            note = disagreement(subject, rule, what, register, sheet)
            if note:
                yield note


def _lot(subject: Subject) -> tuple[LotEntry | None, Finding | None]:
    named = subject.negative.film_lot
    if named is None or not subject.register.lots:
        return None, None
    lot = subject.register.lot(named.value)
    if lot:
        return lot, None
    near = did_you_mean(named.value, subject.register.lots)
    says = f"the film lot {quoted(named.value)} is not in the register; {near}"
    return None, aside(
        subject,
        "film.known",
        Outcome.HOLD,
        says,
        measured=named.value,
        trace=named.trace,
        do=(ASK_NAME,),
    )


def _stock(subject: Subject, limit: Limit, lot: LotEntry | None) -> Finding:
    if lot is None:
        says = "the stock cannot be judged: the sheet names no film lot that the register knows"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    allowed = {word.casefold() for word in limit.words}
    if lot.stock.casefold() in allowed:
        return answer(
            subject, limit, Outcome.PASS, "the film stock may be used", measured=lot.stock
        )
    says = f"the film stock {quoted(lot.stock)} is not one of this workflow's"
    return answer(subject, limit, Outcome.HOLD, says, measured=lot.stock, do=_STALE)


def _age(subject: Subject, limit: Limit, since: date | None, what: str) -> Finding:
    if since is None:
        says = f"it is not known when {what}: neither the register nor the sheet says"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    printed, when = subject.printed_at()
    return judge_age(
        subject, limit, since=since, until=printed.date(), what=what, when=when, do=_STALE
    )


def _expiry(subject: Subject, limit: Limit, lot: LotEntry | None) -> Finding:
    if lot is None or lot.expires is None:
        if subject.rules.limit(NAME, "max_age_days"):
            says = "no expiry date is on record; the film's age is judged instead"
            return answer(subject, limit, Outcome.PASS, says, measured="no date")
        says = "no expiry date is on record, and no rule judges the film's age instead"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(ASK_NAME,))
    printed, when = subject.printed_at()
    past = (printed.date() - lot.expires).days
    if past <= limit.number:
        says = f"the film expires on {lot.expires}; it was {printed.date()} {when}"
        return answer(subject, limit, Outcome.PASS, says, measured=float(max(past, 0)))
    says = f"the film expired on {lot.expires}, {past} days before {printed.date()}, {when}"
    return answer(
        subject, limit, Outcome.HOLD, says, measured=float(past), off=past - limit.number, do=_STALE
    )
