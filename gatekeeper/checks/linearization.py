"""Linearization: the tone curve of this printer and film must be recent.

Why    ink, head and film drift; a curve that was right a season ago prints another mid-tone today.
Keys   linearization: max_age_days. The date comes from register/curves.yaml by workflow, printer,
       film stock, resolution and ruling, a line without the last two for all of them; rooms
       without that register give it on the sheet as `linearized`. A sheet that names its `curve`
       is held where the register knows it by no such name, or as another than the one in use.
Source common practice.
Pass   max_age_days 30; linearized on 10 November, printed on the 20th: 10 days.
Held   the same curve, printed on 20 December: 40 days.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, FILL_IN, REPRINT, WEDGE
from gatekeeper.checks.ages import disagreement, judge_age, outranking
from gatekeeper.checks.interface import Subject, answer, answers, aside
from gatekeeper.register.made_for import of_entry, of_negative
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, fold, listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.made_for import MadeFor
    from gatekeeper.register.models import CurveEntry
    from gatekeeper.rules.effective import Limit

NAME = "linearization"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer max_age_days, and say where sheet and register disagree."""
    if not subject.rules.under(NAME):
        return
    yield from _unknown_printer(subject)
    yield from answers(subject, NAME, _ANSWERS)
    curve = find_curve(subject)
    yield from _other_curve(subject, curve)
    in_use = curve.linearized if curve else None
    stated = subject.negative.linearized
    if curve is None and stated and other_settings(subject):
        says = f"{no_curve(subject)}; the sheet's own date was used"
        yield aside(subject, "linearization.setting", Outcome.NOTE, says)
    yield from disagreement(subject, "linearization.date", "linearized", in_use, stated)


def _unknown_printer(subject: Subject) -> Iterator[Finding]:
    named = subject.negative.printer
    if named is None or not subject.register.printers or subject.register.printer(named.value):
        return
    near = did_you_mean(named.value, subject.register.printers)
    says = f"the printer {quoted(named.value)} is not in the register; {near}"
    yield aside(
        subject,
        "linearization.printer",
        Outcome.HOLD,
        says,
        measured=plain(named.value),
        trace=named.trace,
        do=(ASK_NAME,),
    )


def _other_curve(subject: Subject, in_use: CurveEntry | None) -> Iterator[Finding]:
    """Hold a film that was printed through another curve than the one in use, by its name."""
    stated = subject.negative.curve
    if stated is None:
        return
    named = [curve for curve in subject.register.curves if curve.name]
    if not named:
        return
    wanted = fold(stated.value)
    if in_use and in_use.name and fold(in_use.name) == wanted:
        return
    known = [curve for curve in named if curve.name and fold(curve.name) == wanted]
    if known:
        day = known[-1].linearized
        says = f"printed through {quoted(stated.value)} of {day}, which was not the curve in use"
    else:
        near = did_you_mean(stated.value, [curve.name for curve in named if curve.name])
        says = f"the curve {quoted(stated.value)} is not in the register; {near}"
    yield aside(
        subject,
        "linearization.curve",
        Outcome.HOLD,
        says,
        measured=plain(stated.value),
        trace=stated.trace,
        do=(ASK_NAME, REPRINT),
    )


def _age(subject: Subject, limit: Limit) -> Finding:
    curve = find_curve(subject)
    since = outranking(subject, curve.linearized if curve else None, subject.negative.linearized)
    if since is None:
        says = f"{no_curve(subject)}, and the sheet gives no date"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, WEDGE))
    printed, when = subject.printed_at()
    return judge_age(
        subject,
        limit,
        since=since,
        until=printed.date(),
        what="the printer was linearized",
        when=when,
        do=(WEDGE, REPRINT),
    )


def find_curve(subject: Subject) -> CurveEntry | None:
    """Return the curve in use for the negative's printer and film when it was printed."""
    film = film_of(subject)
    return subject.register.curve(film, subject.printed_at()[0].date()) if film else None


def film_of(subject: Subject) -> MadeFor | None:
    """Return where the film belongs, None where printer or lot are not known."""
    negative = subject.negative
    lot = subject.register.lot(negative.film_lot.value) if negative.film_lot else None
    if lot is None or negative.printer is None:
        return None
    return of_negative(negative, subject.rules.workflow, lot.stock)


def no_curve(subject: Subject) -> str:
    """Say that the register has no curve for the film, and for what else it has one."""
    film = film_of(subject)
    others = other_settings(subject)
    if film is None or not others:
        return "no curve is on record for this workflow, printer and film"
    has = f"this printer and film have curves for {listing(others)}"
    if film.missing:
        return f"the sheet does not say the {film.missing}, and {has}"
    return f"no curve is on record for {film.setting}; {has}"


def other_settings(subject: Subject) -> tuple[str, ...]:
    """Return for which resolutions and rulings the film's printer and stock have curves."""
    film = film_of(subject)
    curves = subject.register.curves_of(film) if film else ()
    day = subject.printed_at()[0].date()
    settings = [of_entry(entry).setting for _, entry in curves if entry.linearized <= day]
    return tuple(dict.fromkeys(setting for setting in settings if setting))


_ANSWERS = {"max_age_days": _age}
