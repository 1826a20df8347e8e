"""Solid density: does the image area block the lamp's light everywhere on the film?

Why    light that leaks through a weak solid hardens the floor of the plate: reliefs fill in, fine reverses close.
       The weakest spot decides, not the average, because the plate is made under that spot too.
Keys   solid_density: min, max (net density), spots (patches that must be read), spread (density, highest less lowest).
Source common practice: 2.7 net makes a plate from ink film, silver film wants 4.0.
Pass   min 2.70; spots 2.91, 2.88, 2.90: the lowest, 2.88, is 0.18 above.
Held   min 2.70; spots 2.91, 2.695, 2.90: the lowest is 0.005 too thin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    CLEAN,
    CLEAN_HEAD,
    FILL_IN,
    MEASURE_AGAIN,
    MORE_INK,
    READ_ALL,
    REPRINT,
    ZERO_CLEAR,
)
from gatekeeper.checks.compare import at_least, at_most, proves_at_least, proves_at_most
from gatekeeper.checks.interface import Subject, answer, outcome_of
from gatekeeper.sheet import Bound, PatchKind
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.measured import NetPatch
    from gatekeeper.rules.effective import Limit

NAME = "solid_density"

_WEAK = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, MORE_INK, REPRINT, CALL_LEAD)
_UNEVEN = (CLEAN, MEASURE_AGAIN, CLEAN_HEAD, REPRINT, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer min, max, spots and spread."""
    spots = subject.measured.of(PatchKind.SOLID)
    for limit in subject.rules.under(NAME):
        match limit.path[1]:
            case "spots":
                yield _count(subject, limit, spots)
            case "min":
                yield _weakest(subject, limit, spots)
            case "max":
                yield _densest(subject, limit, spots)
            case "spread":
                yield _spread(subject, limit, spots)


def unread(subject: Subject, limit: Limit, what: str) -> Finding:
    """Return the answer to a limit on densities of which there is not one."""
    reason = subject.measured.zero_note or f"the sheet has no density of a {what} patch"
    do = (
        (FILL_IN, ZERO_CLEAR, MEASURE_AGAIN)
        if subject.measured.zero_note
        else (READ_ALL, MEASURE_AGAIN)
    )
    return answer(subject, limit, Outcome.NOT_JUDGED, reason, do=do)


def _count(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    enough = at_least(len(spots), limit.number)
    says = f"{counted(len(spots), 'solid patch', 'solid patches')} read, {limit.number:g} asked for"
    return answer(
        subject,
        limit,
        outcome_of(holds=enough),
        says,
        measured=float(len(spots)),
        off=limit.number - len(spots),
        do=(READ_ALL, MEASURE_AGAIN),
    )


def _weakest(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    read = [(spot.net, spot) for spot in spots if spot.net is not None]
    if not read:
        return unread(subject, limit, "solid")
    answers = [(proves_at_least(net, spot.bound, limit.number), net, spot) for net, spot in read]
    held = [entry for entry in answers if entry[0] is not True]
    holds, net, spot = min(held or answers, key=lambda entry: entry[1])
    says = (
        "the weakest solid is dense enough"
        if holds
        else "the solid is too thin: light gets through it"
    )
    if holds is None:
        says = "the meter gave only a bound for the solid, which does not prove the limit"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=net,
        where=spot.patch.where,
        off=limit.number - net,
        trace=spot.patch.trace,
        do=_WEAK,
    )


def _densest(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    read = [(spot.net, spot) for spot in spots if spot.net is not None]
    if not read:
        return unread(subject, limit, "solid")
    answers = [(proves_at_most(net, spot.bound, limit.number), net, spot) for net, spot in read]
    held = [entry for entry in answers if entry[0] is not True]
    holds, net, spot = max(held or answers, key=lambda entry: entry[1])
    says = (
        "the densest solid is within the limit" if holds else "the solid is denser than the limit"
    )
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=net,
        where=spot.patch.where,
        off=net - limit.number,
        trace=spot.patch.trace,
        do=(CHECK_SHEET, ZERO_CLEAR, MEASURE_AGAIN, REPRINT, CALL_LEAD),
    )


def _spread(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    read = [(spot.net, spot) for spot in spots if spot.net is not None]
    if len(read) < 2 or any(spot.bound is not Bound.EXACT for _, spot in read):  # noqa: PLR2004 -- two make a difference
        says = "a spread needs at least two solid patches with full readings"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    lowest, weakest = min(read, key=lambda entry: entry[0])
    spread = max(net for net, _ in read) - lowest
    within = at_most(spread, limit.number)
    says = "the solid is even over the film" if within else "the solid is uneven over the film"
    return answer(
        subject,
        limit,
        outcome_of(holds=within),
        says,
        measured=spread,
        where=f"weakest {weakest.patch.where}".strip() if weakest.patch.where else "",
        off=spread - limit.number,
        trace=weakest.patch.trace,
        do=_UNEVEN,
    )
