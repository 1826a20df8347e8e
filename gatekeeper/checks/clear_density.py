"""Clear density: clear film must let the lamp's light pass.

Why    stain, scum or haze on clear film takes light from the image: fine dots and type do not
       anchor to the floor.
Keys   clear_density: max (density of a clear patch over clear film), base_max (density of the film
       itself over air, which only a meter zeroed on air can show), spots (patches that must be
       read).
Source ISO 12647-2:1996, 4.2 (from memory): at most 0.10 over clear film, 0.15 for the film itself.
Pass   max 0.10; zeroed on clear, clear patches 0.00 and 0.01.
Held   max 0.10; zeroed on air, clear patches 0.04 and 0.16: the second is 0.12 over the first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks import spots
from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    FRESH_FILM,
    MEASURE_AGAIN,
    REPRINT,
    ZERO_AIR,
    ZERO_CLEAR,
)
from gatekeeper.checks.doubt import density_u, difference_u
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers, aside
from gatekeeper.checks.measured import Zero
from gatekeeper.checks.reading import Range, Reading, compare, deciding
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "clear_density"

USUAL_BASE_MAX = 0.15
"""Clear film above this over air is worth a note: ISO 12647-2:1996, 4.2 (from memory)."""

_STAINED = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, FRESH_FILM, REPRINT, CALL_LEAD)
_FOGGED = (CLEAN, FRESH_FILM, REPRINT, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer max, base_max and spots, and note a film that is dense by itself."""
    yield from answers(subject, NAME, _ANSWERS)
    base = subject.measured.base
    if subject.rules.under(NAME) and base is not None and base > USUAL_BASE_MAX:
        says = f"the clear film reads {base:.2f} over air; {USUAL_BASE_MAX} is usual at most"
        yield aside(subject, "clear_density.base", Outcome.NOTE, says, measured=base)


def _count(subject: Subject, limit: Limit) -> Finding:
    return spots.count(subject, limit, PatchKind.CLEAR)


def _darkest(subject: Subject, limit: Limit) -> Finding:
    unusable = spots.unread(subject, limit, PatchKind.CLEAR)
    if unusable:
        return unusable
    allowed = Range(upper=limit.number, guard=subject.guard)
    worst = deciding([compare(reading, allowed) for reading in over_clearest(subject)])
    says = (
        "the clear film is stained or hazy" if worst.holds is False else "the clear film is clear"
    )
    return answer_reading(subject, limit, worst, says, do=_STAINED)


def over_clearest(subject: Subject) -> list[Reading]:
    """Return the clear patches over what a meter zeroed on clear film would have been zeroed on.

    Zeroed on air, the clearest patch stands for the patch on which the meter would have been
    zeroed.
    """
    read = spots.densities(subject, PatchKind.CLEAR)
    on_air = subject.measured.zero is Zero.AIR
    zero = min(reading.value for reading in read) if on_air else 0.0
    u = difference_u(subject) if on_air else density_u(subject)
    return [reading._replace(value=reading.value - zero, u=u) for reading in read]


def _base(subject: Subject, limit: Limit) -> Finding:
    base = subject.measured.base
    if base is None:
        says = "the film's own density shows only when the meter is zeroed on air"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(ZERO_AIR, MEASURE_AGAIN))
    allowed = Range(upper=limit.number, guard=subject.guard)
    film = compare(Reading(base, u=density_u(subject)), allowed)
    low_enough = "the film's own density is low enough"
    says = "the film itself is too dense" if film.holds is False else low_enough
    return answer_reading(subject, limit, film, says, do=_FOGGED)


_ANSWERS = {"spots": _count, "max": _darkest, "base_max": _base}
