"""Spots of one kind on the film as readings, and what several checks say about them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import FILL_IN, MEASURE_AGAIN, READ_ALL, ZERO_CLEAR
from gatekeeper.checks.compare import at_least
from gatekeeper.checks.doubt import net_u
from gatekeeper.checks.interface import answer, outcome_of
from gatekeeper.checks.measured import Zero
from gatekeeper.checks.reading import Reading
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import counted, fold

if TYPE_CHECKING:
    from collections.abc import Hashable

    from gatekeeper.checks.interface import Subject
    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Patch, PatchKind


def densities(subject: Subject, kind: PatchKind) -> list[Reading]:
    """Return the net densities of one kind of patch, in the order read."""
    u = net_u(subject)
    return [
        Reading(entry.net, entry.bound, entry.patch, u)
        for entry in subject.measured.of(kind)
        if entry.net is not None
    ]


def unread(subject: Subject, limit: Limit, kind: PatchKind) -> Finding | None:
    """Return the answer to a limit on densities that cannot all be used, None where they can."""
    reason = subject.measured.why_unusable(kind)
    if not reason:
        return None
    zero = (FILL_IN, ZERO_CLEAR) if subject.measured.zero is Zero.UNKNOWN else (READ_ALL,)
    return answer(subject, limit, Outcome.NOT_JUDGED, reason, do=(*zero, MEASURE_AGAIN))


def count(subject: Subject, limit: Limit, kind: PatchKind) -> Finding:
    """Answer how many patches of a kind must be read; the same row twice is one patch."""
    patches_read = [entry.patch for entry in subject.measured.of(kind)]
    read = len({_row(patch, number) for number, patch in enumerate(patches_read)})
    twice = "" if read == len(patches_read) else ", with a place and its reading that stand twice"
    patches = counted(read, f"{kind} patch", f"{kind} patches")
    return answer(
        subject,
        limit,
        outcome_of(holds=at_least(read, limit.number)),
        f"{patches} read, {limit.number:g} asked for{twice}",
        measured=float(read),
        off=limit.number - read,
        do=(READ_ALL, MEASURE_AGAIN),
    )


def _row(patch: Patch, number: int) -> Hashable:
    """Return what makes this row another than the others; without a place, only where it stands."""
    if not patch.where:
        return number
    values = (patch.density, patch.transmittance_percent, patch.dot_percent)
    return fold(patch.where), tuple(value and (value.value, value.bound) for value in values)
