"""Dots of tints: the meter's own, and those computed from densities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from gatekeeper.checks.compare import SLACK
from gatekeeper.checks.reading import Reading
from gatekeeper.measures.density import dot_area
from gatekeeper.sheet import Bound, PatchKind

if TYPE_CHECKING:
    from gatekeeper.checks.interface import Subject
    from gatekeeper.checks.measured import NetPatch

PROVEN_SOLID = 3.0
"""A solid that the meter gives only as "at least" this dense moves a computed dot by less than 0.1
points."""


def tints_of(subject: Subject, nominal: float) -> list[NetPatch]:
    """Return every patch of one nominal, in percent; 50.0001 is another tint than 50."""
    return [
        entry
        for entry in subject.measured.patches
        if entry.patch.kind is PatchKind.TINT
        and entry.patch.nominal is not None
        and abs(entry.patch.nominal.value - nominal) <= SLACK
    ]


def dots_of(subject: Subject, entry: NetPatch) -> tuple[list[Reading], str]:
    """Return the dots of a tint in percent that the rules take, or why it gives none.

    Where it gives two, the meter's own and the computed one, both are judged. A reading that cannot
    be used never hides behind the other.
    """
    source = subject.rules.dot_from
    dots: list[Reading] = []
    own = entry.patch.dot_percent
    if source != "densities" and own is not None:
        if own.bound is not Bound.EXACT:
            return [], "the meter gave only a bound for the dot"
        dots.append(Reading(own.value, patch=entry.patch, how="the meter's own dot"))
    if source == "meter":
        return dots, "" if dots else "the sheet does not give the meter's own dot"
    if entry.net is not None or not dots:
        computed, reason = computed_dot(subject, entry)
        if computed is None:
            return [], reason
        dots.append(computed)
    return dots, ""


def computed_dot(subject: Subject, entry: NetPatch) -> tuple[Reading | None, str]:
    """Return the dot in percent by Murray-Davies over the mean solid, or why there is none."""
    if entry.net is None:
        given = "the tint has neither a density nor a dot"
        return None, subject.measured.why_unusable(PatchKind.TINT) if entry.is_read else given
    if entry.bound is not Bound.EXACT:
        return None, "the meter gave only a bound for the tint"
    solid, reason = _solid(subject)
    if solid is None:
        return None, reason
    area = float(dot_area(entry.net, solid, reading=_printing(subject)))
    return Reading(100.0 * area, patch=entry.patch, how="computed from densities"), ""


def _solid(subject: Subject) -> tuple[float | None, str]:
    solids = subject.measured.of(PatchKind.SOLID)
    usable = [spot.net for spot in solids if spot.net is not None and _is_usable(spot)]
    if not usable or len(usable) < len(solids):
        return None, "a dot cannot be computed without the density of the solid"
    mean = sum(usable) / len(usable)
    if not mean > 0:
        return None, "the solid reads no denser than clear film: check the zero and the patches"
    return mean, ""


def _is_usable(spot: NetPatch) -> bool:
    if spot.bound is Bound.AT_LEAST:
        return spot.net is not None and spot.net >= PROVEN_SOLID
    return spot.bound is Bound.EXACT


def _printing(subject: Subject) -> Literal["negative", "positive"]:
    return "negative" if subject.rules.reading == "negative" else "positive"
