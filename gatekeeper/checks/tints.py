"""Tints: each step of the tone scale must read as the artwork asks.

Why    a mid-tone that has drifted prints too full or too thin on every plate until the printer is
       linearized again.
Keys   tints: a list of {nominal, tolerance}, both in percent of dot; the tolerance is absolute.
       `reading` says whether the clear or the black area prints; `dot_from` whether dots are
       computed from densities, taken from the meter, or either.
Source Murray-Davies from net densities; common practice: a 50 % tint should read within 2 points.
Pass   nominal 50, tolerance 2.0; the dot reads 52.0 %.
Held   nominal 50, tolerance 2.0; the dot reads 52.1 %.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    FILL_IN,
    MEASURE_AGAIN,
    READ_ALL,
    WEDGE,
    ZERO_CLEAR,
    ZERO_HUNDRED,
)
from gatekeeper.checks.dots import dots_of, tints_of
from gatekeeper.checks.interface import Subject, answer, answer_reading
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "tints"

_OFF = (CLEAN, ZERO_CLEAR, ZERO_HUNDRED, MEASURE_AGAIN, WEDGE, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer each nominal."""
    for limit in subject.rules.under(NAME):
        yield _tint(subject, limit)


def _tint(subject: Subject, limit: Limit) -> Finding:
    nominal = float(limit.path[1])
    patches = tints_of(subject, nominal)
    if not patches:
        says = f"the sheet has no {limit.path[1]} % tint"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    dots: list[Reading] = []
    for entry in patches:
        found, reason = dots_of(subject, entry)
        if reason:
            do = (FILL_IN, ZERO_CLEAR, MEASURE_AGAIN)
            trace = entry.patch.read_at
            return answer(subject, limit, Outcome.NOT_JUDGED, reason, trace=trace, do=do)
        dots += found
    return _worst(subject, limit, nominal, dots)


def _worst(subject: Subject, limit: Limit, nominal: float, dots: list[Reading]) -> Finding:
    allowed = Range(nominal - limit.number, nominal + limit.number, subject.guard)
    worst = deciding([compare(dot, allowed) for dot in dots])
    dot = worst.reading
    wrong = "too full" if dot.value > nominal else "too thin"
    way = wrong if worst.holds is False else "as it should"
    says = f"the {limit.path[1]} % tint reads {way} ({dot.how})"
    return answer_reading(subject, limit, worst, says, do=_OFF)
