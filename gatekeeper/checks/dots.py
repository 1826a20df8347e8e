"""Dots of tints in percent, with their doubt: the meter's own, and those from densities."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

from gatekeeper.checks.compare import SLACK
from gatekeeper.checks.doubt import net_u
from gatekeeper.checks.reading import Reading
from gatekeeper.measures.density import dot_area, dot_uncertainty
from gatekeeper.sheet import Bound, PatchKind

if TYPE_CHECKING:
    from gatekeeper.checks.interface import Subject
    from gatekeeper.checks.measured import NetPatch

PROVEN_SOLID = 3.0
"""A solid that the meter gives only as "at least" this dense moves a computed dot by less than 0.1
points."""

DARKEST = 1e-6
"""Least fraction of light that a tint is taken to let through: no meter reads a dot further."""


class Scale(NamedTuple):
    """What turns densities into dots."""

    solid: float  # mean net density of the solid
    n: float  # spread factor
    reading: Literal["negative", "positive"]

    def percent(self, net: float) -> float:
        """Return the dot of a net density."""
        return 100.0 * float(dot_area(net, self.solid, reading=self.reading, n=self.n))

    def percent_u(self, net: float, u: float | None) -> float | None:
        """Return the dot's standard uncertainty, where both densities are known to within `u`.

        With a spread factor the area is that of densities n times smaller, and so is their doubt.
        """
        if u is None:
            return None
        part = u / self.n
        fraction = dot_uncertainty(
            net / self.n, self.solid / self.n, u_tint=part, u_solid=part, reading=self.reading
        )
        return 100.0 * float(fraction)

    def net(self, percent: float) -> float:
        """Return the net density of a dot."""
        black = percent / 100.0 if self.reading == "positive" else 1.0 - percent / 100.0
        full = 1.0 - math.pow(10.0, -self.solid / self.n)
        return -self.n * math.log10(max(1.0 - black * full, DARKEST))


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
    """Return the dots of a tint that the rules take, or why it gives none.

    Where it gives two, the meter's own and the computed one, both are judged. A reading that cannot
    be used never hides behind the other.
    """
    source = subject.rules.dot_from
    own = own_dot(subject, entry) if source != "densities" else None
    if own is not None and own.bound is not Bound.EXACT:
        return [], "the meter gave only a bound for the dot"
    dots = [] if own is None else [own]
    if source == "meter":
        return dots, "" if dots else "the sheet does not give the meter's own dot"
    if entry.net is not None or not dots:
        computed, reason = computed_dot(subject, entry)
        if computed is None:
            return [], reason
        dots.append(computed)
    return dots, ""


def own_dot(subject: Subject, entry: NetPatch) -> Reading | None:
    """Return the meter's own dot, None where the sheet does not give it.

    Its doubt is that of the density behind it: the meter worked the dot out from what it read.
    """
    number = entry.patch.dot_percent
    if number is None:
        return None
    scale, _ = scale_of(subject)
    scale = scale or Scale(PROVEN_SOLID, 1.0, _printing(subject))
    u = scale.percent_u(scale.net(number.value), net_u(subject))
    return Reading(number.value, number.bound, entry.patch, u, "the meter's own dot")


def computed_dot(subject: Subject, entry: NetPatch) -> tuple[Reading | None, str]:
    """Return the dot by Murray-Davies over the mean solid, or why there is none."""
    if entry.net is None:
        given = "the tint has neither a density nor a dot"
        return None, subject.measured.why_unusable(PatchKind.TINT) if entry.is_read else given
    if entry.bound is not Bound.EXACT:
        return None, "the meter gave only a bound for the tint"
    scale, reason = scale_of(subject)
    if scale is None:
        return None, reason
    u = scale.percent_u(entry.net, net_u(subject))
    dot = Reading(scale.percent(entry.net), Bound.EXACT, entry.patch, u, "computed from densities")
    return dot, ""


def scale_of(subject: Subject) -> tuple[Scale | None, str]:
    """Return what turns this negative's densities into dots, or why nothing does."""
    solids = subject.measured.of(PatchKind.SOLID)
    usable = [spot.net for spot in solids if spot.net is not None and _is_usable(spot)]
    if not usable or len(usable) < len(solids):
        return None, "a dot cannot be computed without the density of the solid"
    mean = sum(usable) / len(usable)
    if not mean > 0:
        return None, "the solid reads no denser than clear film: check the zero and the patches"
    n = subject.rules.number("dot", "spread_factor", default=1.0)
    return Scale(mean, n, _printing(subject)), ""


def _is_usable(spot: NetPatch) -> bool:
    if spot.bound is Bound.AT_LEAST:
        return spot.net is not None and spot.net >= PROVEN_SOLID
    return spot.bound is Bound.EXACT


def _printing(subject: Subject) -> Literal["negative", "positive"]:
    return "negative" if subject.rules.reading == "negative" else "positive"
