"""Clear density: does clear film let the lamp's light pass?

Why    stain, scum or haze on clear film takes light from the image: fine dots and type do not anchor to the floor.
Keys   clear_density: max (density of a clear patch over clear film), base_max (density of the film itself over air,
       which only a meter zeroed on air can show), spots (patches that must be read).
Pass   max 0.10; zeroed on clear, clear patches 0.00 and 0.01.
Held   max 0.10; zeroed on air, clear patches 0.04 and 0.16: the second is 0.12 over the first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    FRESH_FILM,
    MEASURE_AGAIN,
    READ_ALL,
    REPRINT,
    ZERO_CLEAR,
)
from gatekeeper.checks.compare import at_least, at_most, proves_at_most
from gatekeeper.checks.interface import Subject, answer, aside, outcome_of
from gatekeeper.checks.measured import Zero
from gatekeeper.checks.solid_density import unread
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.measured import NetPatch
    from gatekeeper.rules.effective import Limit

NAME = "clear_density"

USUAL_BASE_MAX = 0.15
"""Clear film above this over air is worth a note: ISO 12647-2:1996, 4.2 (from memory)."""

_STAINED = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, FRESH_FILM, REPRINT, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer max, base_max and spots."""
    spots = subject.measured.of(PatchKind.CLEAR)
    for limit in subject.rules.under(NAME):
        match limit.path[1]:
            case "spots":
                yield _count(subject, limit, spots)
            case "max":
                yield _darkest(subject, limit, spots)
            case "base_max":
                yield _base(subject, limit)
    base = subject.measured.base
    if subject.rules.under(NAME) and base is not None and base > USUAL_BASE_MAX:
        says = f"the clear film reads {base:.2f} over air; {USUAL_BASE_MAX} is usual at most"
        yield aside(subject, "clear_density.base", Outcome.NOTE, says, measured=base)


def _count(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    return answer(
        subject,
        limit,
        outcome_of(holds=at_least(len(spots), limit.number)),
        f"{counted(len(spots), 'clear patch', 'clear patches')} read, {limit.number:g} asked for",
        measured=float(len(spots)),
        off=limit.number - len(spots),
        do=(READ_ALL, MEASURE_AGAIN),
    )


def _darkest(subject: Subject, limit: Limit, spots: tuple[NetPatch, ...]) -> Finding:
    read = [(spot.net, spot) for spot in spots if spot.net is not None]
    if not read:
        return unread(subject, limit, "clear")
    # Zeroed on air, the clearest patch stands for the patch on which the meter would have been zeroed.
    zero = min(net for net, _ in read) if subject.measured.zero is Zero.AIR else 0.0
    answers = [
        (proves_at_most(net - zero, spot.bound, limit.number), net - zero, spot)
        for net, spot in read
    ]
    held = [entry for entry in answers if entry[0] is not True]
    holds, over, spot = max(held or answers, key=lambda entry: entry[1])
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        "the clear film is clear" if holds else "the clear film is stained or hazy",
        measured=over,
        where=spot.patch.where,
        off=over - limit.number,
        trace=spot.patch.trace,
        do=_STAINED,
    )


def _base(subject: Subject, limit: Limit) -> Finding:
    base = subject.measured.base
    if base is None:
        says = "the film's own density shows only when the meter is zeroed on air"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(MEASURE_AGAIN,))
    holds = at_most(base, limit.number)
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        "the film's own density is low enough" if holds else "the film itself is too dense",
        measured=base,
        off=base - limit.number,
        do=(CLEAN, FRESH_FILM, REPRINT, CALL_LEAD),
    )
