"""Linearization: is the tone curve of this printer and film recent enough?

Why    ink, head and film drift; a curve that was right a season ago prints another mid-tone today.
Keys   linearization: max_age_days. The date comes from register/curves.yaml by workflow, printer and film stock;
       rooms without that register give it on the sheet as `linearized`.
Pass   max_age_days 30; linearized on 10 November, printed on the 20th: 10 days.
Held   the same curve, printed on 20 December: 40 days.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, FILL_IN, REPRINT, WEDGE
from gatekeeper.checks.ages import day_of, disagreement, judge_age
from gatekeeper.checks.interface import Subject, answer, aside
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.models import CurveEntry

NAME = "linearization"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer max_age_days."""
    limit = subject.rules.limit(NAME, "max_age_days")
    if limit is None:
        return
    printer = subject.negative.printer
    if printer and subject.register.printers and subject.register.printer(printer.value) is None:
        near = did_you_mean(printer.value, subject.register.printers)
        says = f"the printer {quoted(printer.value)} is not in the register; {near}"
        yield aside(
            subject,
            "linearization.printer",
            Outcome.HOLD,
            says,
            trace=printer.trace,
            do=(ASK_NAME,),
        )
    curve = find_curve(subject)
    since = curve.linearized if curve else day_of(subject, subject.negative.linearized)
    if since is None:
        says = (
            "no curve is on record for this workflow, printer and film, and the sheet gives no date"
        )
        yield answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, WEDGE))
        return
    printed, when = subject.printed_at()
    yield judge_age(
        subject,
        limit,
        since=since,
        until=printed.date(),
        what="the printer was linearized",
        when=when,
        do=(WEDGE, REPRINT),
    )
    if curve:
        note = disagreement(
            subject,
            "linearization.date",
            "linearized",
            curve.linearized,
            subject.negative.linearized,
        )
        if note:
            yield note


def find_curve(subject: Subject) -> CurveEntry | None:
    """Return the curve in use for the negative's printer and film when it was printed."""
    negative = subject.negative
    lot = subject.register.lot(negative.film_lot.value) if negative.film_lot else None
    if lot is None or negative.printer is None:
        return None
    printed, _ = subject.printed_at()
    return subject.register.curve(
        subject.rules.workflow, negative.printer.value, lot.stock, printed.date()
    )
