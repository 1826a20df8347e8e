"""One number that limits are compared with: a meter's reading, or what is worked out from several.

The worst of several readings decides, because the plate is made under that spot too. A *guarded*
decision draws the limits in by a part of the reading's doubt (JCGM 106:2012, 8.3; ISO 14253-1), so
that the doubt goes against the negative and not against the plate.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.compare import proves_at_least, proves_at_most
from gatekeeper.measures.uncertainty import conformance_probability
from gatekeeper.sheet import Bound

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.sheet import Patch, Trace

COVERAGE = 2.0
"""Factor of an expanded uncertainty over the standard one, as certificates state it (GUM 6.3)."""


class Reading(NamedTuple):
    """A number in the unit of the limit, how well it is known, and where on the film it was read.

    `u` is its standard uncertainty (k = 1) in the same unit; None where nobody knows it.
    """

    value: float
    bound: Bound = Bound.EXACT
    patch: Patch | None = None
    u: float | None = None
    how: str = ""  # in words, where a reading can come about in more than one way

    @property
    def expanded_u(self) -> float | None:
        """Expanded uncertainty (k = 2)."""
        return None if self.u is None else COVERAGE * self.u

    @property
    def where(self) -> str:
        """The place on the film, empty where nobody wrote it down."""
        return self.patch.where if self.patch else ""

    @property
    def trace(self) -> Trace | None:
        """The place in the sheet."""
        return self.patch.read_at if self.patch else None


class Range(NamedTuple):
    """What is allowed, and how much of the reading's doubt is taken off at each end.

    `guard` is a multiple of the expanded uncertainty; 0 is the plain decision.
    """

    lower: float | None = None
    upper: float | None = None
    guard: float = 0.0


class Compared(NamedTuple):
    """A reading beside its limits."""

    reading: Reading
    allowed: Range
    holds: bool | None  # None where a bound, or a doubt that nobody knows, leaves it open
    excess: float  # how far the reading lies beyond the nearest limit; below 0 inside
    band: float = 0.0  # the guard band that was taken off
    is_by_chance: bool = False  # beyond the limit, and let pass as nothing but scatter

    @property
    def is_lowest(self) -> bool:
        """Whether there is a lower limit alone."""
        return self.allowed.upper is None

    @property
    def probability(self) -> float | None:
        """That the true value lies within the limits; dear, and asked of the deciding one alone."""
        return None if self.is_by_chance else _probability(self.reading, self.allowed)

    @property
    def lacks_doubt(self) -> bool:
        """Whether it is open only because nobody knows how good the reading is."""
        return self.holds is None and self.reading.bound is Bound.EXACT


def compare(reading: Reading, allowed: Range) -> Compared:
    """Compare the unrounded reading with its limits."""
    band = allowed.guard * (reading.expanded_u or 0.0)
    sides: list[tuple[bool | None, float]] = []
    if allowed.lower is not None:
        lower = allowed.lower + band
        sides.append((proves_at_least(reading.value, reading.bound, lower), lower - reading.value))
    if allowed.upper is not None:
        upper = allowed.upper - band
        sides.append((proves_at_most(reading.value, reading.bound, upper), reading.value - upper))
    outcomes = {holds for holds, _ in sides}
    holds = False if False in outcomes else None if None in outcomes else True
    if holds and allowed.guard and reading.u is None:
        holds = None
    excess = max(beyond for _, beyond in sides)
    return Compared(reading, allowed, holds, excess, band)


def _probability(reading: Reading, allowed: Range) -> float | None:
    """Return the probability of conformance; of a bound, that of its worse end."""
    if reading.u is None or not isfinite(reading.value):
        return None
    is_open = {
        Bound.EXACT: False,
        Bound.AT_LEAST: allowed.upper is not None,
        Bound.AT_MOST: allowed.lower is not None,
    }
    if is_open[reading.bound]:
        return None
    return conformance_probability(reading.value, reading.u, allowed.lower, allowed.upper)


def deciding(compared: Sequence[Compared]) -> Compared:
    """Return the reading that decides for all: the worst that fails, else that may fail, else any.

    Outcomes come before numbers, so that a reading that is no number cannot hide behind others.
    """
    for holds in (False, None):
        failing = [entry for entry in compared if entry.holds is holds]
        if failing:
            return max(failing, key=lambda entry: entry.excess)
    return max(compared, key=lambda entry: entry.excess)
