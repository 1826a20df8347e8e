"""A correction as the table that is typed into the printer's software.

Units    percent, 0 to 100: wanted, and to be sent for it.
Source   lines between the steps as in `measures.monotone`; the software of the printer may join
         them by straight lines, which differs by less than its own rounding at 21 steps.
Pure     no file, no clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.monotone import MonotoneCurve, monotone_curve

if TYPE_CHECKING:
    from collections.abc import Sequence

STEPS: Final = 21
"""Lines of a table: every 5 percent (common practice)."""

DECIMALS: Final = 1
"""What people type; a tenth of a percent is less than any meter tells apart."""

_WHOLE: Final = 100.0


@dataclass(frozen=True)
class Correction:
    """Percent to send for a percent wanted.

    Attributes
    ----------
    steps : percent to send for percents wanted that lie evenly from 0 to 100, shape (n,), rising
    """

    steps: tuple[float, ...]
    _between: MonotoneCurve = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay the curve through the steps once."""
        object.__setattr__(self, "_between", monotone_curve(self.wanted, list(self.steps)))

    @property
    def wanted(self) -> list[float]:
        """The percents that the steps are for."""
        return evenly(len(self.steps))

    def __call__(self, percent: float) -> float:
        """Percent to send for one percent wanted."""
        return min(max(self._between.height(percent), 0.0), _WHOLE)


def evenly(lines: int) -> list[float]:
    """Return so many percents, evenly from 0 to 100."""
    return [_WHOLE * line / (lines - 1) for line in range(lines)]


def as_typed(steps: Sequence[float]) -> tuple[float, ...]:
    """Return steps as people type them; rounding never makes a rising table fall."""
    return tuple(round(step, DECIMALS) + 0.0 for step in steps)
