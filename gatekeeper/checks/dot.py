"""Dot: the meter's own dot must agree with the dot computed from its densities.

Why    the two come from the same film, so a difference is never in the film: the meter is in the
       wrong mode, or its own dot was zeroed on the wrong patch, and every dot of the sheet is off.
Keys   dot: max_disagreement (percent, absolute), spread_factor (the n of Yule and Nielsen; 1 is
       plain area, right for film in contact, and built in). Without max_disagreement a difference
       of more than 2 is a note.
Source Murray-Davies from net densities; two points are what common practice allows a 50 % tint.
Pass   max_disagreement 2.0; the meter says 51.0 %, its densities 50.1 %.
Held   the meter says 49.0 %, its densities 51.9 %; or it says 30 % and its densities 70 %: it shows
       the area that does not print.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    FILL_IN,
    MEASURE_AGAIN,
    METER_MODE,
    OTHER_METER,
    READ_ALL,
    ZERO_CLEAR,
    ZERO_HUNDRED,
)
from gatekeeper.checks.dots import computed_dot, own_dot
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers, aside
from gatekeeper.checks.reading import Compared, Range, Reading, compare, deciding
from gatekeeper.measures.uncertainty import combined_uncertainty
from gatekeeper.sheet import Bound, PatchKind
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.measured import NetPatch
    from gatekeeper.rules.effective import Limit

NAME = "dot"

USUAL_MAX = 2.0
"""Points by which the two may differ before it is worth a note: common practice."""

OTHER_AREA = 5.0
"""Two dots that add up to 100 within so many points are of both areas, what prints and the rest."""

_MODE = (
    CHECK_SHEET, ZERO_CLEAR, ZERO_HUNDRED, METER_MODE, MEASURE_AGAIN, OTHER_METER, CALL_LEAD,
)  # fmt: skip


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer max_disagreement; where nobody asks, note a difference that is more than usual."""
    yield from answers(subject, NAME, _ANSWERS)
    if not subject.rules.under(NAME):
        yield from _note(subject)


def _disagreement(subject: Subject, limit: Limit) -> Finding:
    both = _with_both(subject)
    if not both:
        says = "no tint has both a density and the meter's own dot"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    compared: list[tuple[Compared, str]] = []
    for entry in both:
        pair = _differing(subject, entry)
        if isinstance(pair, str):
            do = (FILL_IN, ZERO_CLEAR, MEASURE_AGAIN)
            trace = entry.patch.read_at
            return answer(subject, limit, Outcome.NOT_JUDGED, pair, trace=trace, do=do)
        difference, words = pair
        allowed = Range(upper=limit.number, guard=subject.guard)
        compared.append((compare(difference, allowed), words))
    worst = deciding([entry for entry, _ in compared])
    words = next(words for entry, words in compared if entry is worst)
    says = words if worst.holds is False else "the meter's own dot agrees with its densities"
    return answer_reading(subject, limit, worst, says, do=_MODE)


def _note(subject: Subject) -> Iterator[Finding]:
    for entry in _with_both(subject):
        pair = _differing(subject, entry)
        if not isinstance(pair, str) and pair[0].value > USUAL_MAX:
            yield aside(
                subject,
                "dot.disagreement",
                Outcome.NOTE,
                pair[1],
                measured=pair[0].value,
                trace=entry.patch.read_at,
            )


def _with_both(subject: Subject) -> list[NetPatch]:
    return [
        entry
        for entry in subject.measured.patches
        if entry.patch.kind is PatchKind.TINT and entry.is_read and entry.patch.dot_percent
    ]


def _differing(subject: Subject, entry: NetPatch) -> tuple[Reading, str] | str:
    """Return how far the two dots of a tint differ and the likely cause, or why nobody knows."""
    own = own_dot(subject, entry)
    computed, reason = computed_dot(subject, entry)
    if own is None or computed is None:
        return reason
    if own.bound is not Bound.EXACT:
        return "the meter gave only a bound for the dot"
    u = None
    if own.u is not None and computed.u is not None:
        u = combined_uncertainty([own.u, computed.u])
    difference = Reading(abs(own.value - computed.value), patch=entry.patch, u=u)
    return difference, _cause(own.value, computed.value)


def _cause(own: float, computed: float) -> str:
    says = f"the meter shows {shortest(own)} %, its densities give {computed:.1f} %: "
    if abs(own + computed - 100.0) <= OTHER_AREA < abs(own - computed):
        return says + "it shows the area that does not print, so it is in the wrong mode"
    return says + "it is in another mode, or was zeroed on the wrong patch"


_ANSWERS = {"max_disagreement": _disagreement}
