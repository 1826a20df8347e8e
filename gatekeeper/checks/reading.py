"""One number that limits are compared with: a meter's reading, or what is worked out from several.

The worst of several readings decides, because the plate is made under that spot too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.checks.compare import proves_at_least, proves_at_most
from gatekeeper.sheet import Bound

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.sheet import Patch, Trace


@dataclass(frozen=True, slots=True)
class Reading:
    """A number in the unit of the limit, and where on the film it was read."""

    value: float
    bound: Bound = Bound.EXACT
    patch: Patch | None = None
    how: str = ""  # in words, where a reading can come about in more than one way

    @property
    def where(self) -> str:
        """The place on the film, empty where nobody wrote it down."""
        return self.patch.where if self.patch else ""

    @property
    def trace(self) -> Trace | None:
        """The place in the sheet."""
        return self.patch.trace if self.patch else None


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading beside its limits."""

    reading: Reading
    holds: bool | None  # None where a bound may lie on either side
    excess: float  # how far the reading lies beyond the nearest limit; below 0 inside


def compare(
    reading: Reading, *, lower: float | None = None, upper: float | None = None
) -> Compared:
    """Compare the unrounded reading with the limits that are given."""
    sides: list[tuple[bool | None, float]] = []
    if lower is not None:
        holds = proves_at_least(reading.value, reading.bound, lower)
        sides.append((holds, lower - reading.value))
    if upper is not None:
        holds = proves_at_most(reading.value, reading.bound, upper)
        sides.append((holds, reading.value - upper))
    outcomes = {holds for holds, _ in sides}
    decided = False if False in outcomes else None if None in outcomes else True
    return Compared(reading, decided, max(excess for _, excess in sides))


def deciding(compared: Sequence[Compared]) -> Compared:
    """Return the reading that decides for all: the worst that fails, else that may fail, else any.

    Outcomes come before numbers, so that a reading that is no number cannot hide behind others.
    """
    for holds in (False, None):
        failing = [entry for entry in compared if entry.holds is holds]
        if failing:
            return max(failing, key=lambda entry: entry.excess)
    return max(compared, key=lambda entry: entry.excess)
