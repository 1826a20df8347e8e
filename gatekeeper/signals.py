"""What the control charts show of a film's printer when the film is judged: a snapshot. Pure data.

It is handed to the judge like the register, and every signal of it is written into a finding, so
that a verdict can be judged again from its own record.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

MID_TONE: Final = "mid-tone"
QUANTITIES: Final = (MID_TONE, "solid", "clear")
"""What is followed for every job."""

NOT_KNOWN: Final = "not known"


class Sign(StrEnum):
    """A sign that stands: the newest film of the printer belongs to it."""

    LEVEL = "level"  # moving average or cumulative sum beyond its limit, by more than one film
    ONE_SIDE = "one side"  # run test: so many films in a row on one side of the centre
    STEADY = "rise or fall"  # run test: so many films in a row, each above (below) the one before
    OUTSIDE = "outside"  # the newest film beyond the limits of single films


@dataclass(frozen=True, slots=True)
class Signal:
    """What one quantity shows."""

    quantity: str
    signs: tuple[str, ...]
    says: str

    @property
    def words(self) -> str:
        """The signal as its finding records it: mid-tone: level, one side."""
        return f"{self.quantity}: {', '.join(self.signs)}"


@dataclass(frozen=True, slots=True)
class Signals:
    """What stands for one film.

    Attributes
    ----------
    unknown : why nobody can say it, empty where it is known
    is_away : it is not known because the history is away, and not because of the sheet
    """

    standing: tuple[Signal, ...] = ()
    unknown: str = ""
    is_away: bool = False


def recorded(findings: Iterable[tuple[str, str]]) -> Signals:
    """Return the snapshot that findings have recorded.

    Parameters
    ----------
    findings : what the findings of the check on control measured and said, of one film
    """
    standing = []
    for words, says in findings:
        if words == NOT_KNOWN:
            return Signals(unknown=says)
        quantity, found, signs = words.partition(": ")
        if found and quantity in QUANTITIES:
            standing.append(Signal(quantity, tuple(signs.split(", ")), says))
    return Signals(tuple(standing))
