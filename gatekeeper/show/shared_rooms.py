"""What the page of rooms says about all rooms that share one history, before it is laid out.

All text has passed `wording.plain`. Ages count from the moment at which the history was asked, so
equal facts give equal pages.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.control.shares import Share, share
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from gatekeeper.show.room_facts import Alarm

_SKEW = timedelta(minutes=2)
"""Clocks of two machines may differ by so much without a word."""


@dataclass(frozen=True, slots=True)
class HeldElsewhere:
    """A held job, short enough for one line."""

    job: str
    workflow: str
    customer: str
    since: str
    why: str


@dataclass(frozen=True, slots=True)
class SharedRoom:
    """One room: its jobs by their newest verdict, and how many it held at the first try."""

    name: str
    is_here: bool  # the room whose page this is
    approved: int
    held_in_all: int
    first_try: Share = field(default_factory=lambda: share(0, 0))  # held at it, of complete jobs
    newest: str = ""  # moment of its newest verdict; empty where it has none
    age: timedelta | None = None
    held: tuple[HeldElsewhere, ...] = ()  # the newest of them

    @property
    def newest_says(self) -> str:
        """When its newest verdict was filed, and how long before the history was asked."""
        return f"{self.newest}, {age_says(self.age)}" if self.age is not None else "none yet"

    @property
    def first_try_says(self) -> str:
        """The share that was held at the first try, with its bounds."""
        found = self.first_try
        if found.fraction is None:
            return "no jobs"
        return (
            f"{found.fraction:.0%}: {found.part} of {counted(found.whole, 'job')}, "
            f"in the long run {found.lower:.0%} to {found.upper:.0%}"
        )


@dataclass(frozen=True, slots=True)
class SharedRooms:
    """All rooms that are shown, and their film lots as one signal.

    Attributes
    ----------
    asked : the moment at which the history answered last; empty where it never did
    days : how far back shares and lots look
    left_out : rooms of the history that are not shown
    bad_lots : what should be done about lots, in plain words, the worst first
    lots : how many were compared
    alarms : what is wrong: the server is away, a room is named that nobody knows
    """

    room: str
    asked: str = ""
    days: int = 0
    rooms: tuple[SharedRoom, ...] = ()
    left_out: int = 0
    bad_lots: tuple[str, ...] = ()
    lots: int = 0
    alarms: tuple[Alarm, ...] = ()

    @property
    def held_in_all(self) -> int:
        """Held jobs of every room that is shown."""
        return sum(room.held_in_all for room in self.rooms)

    @property
    def is_shared(self) -> bool:
        """Whether more rooms than one write into the history."""
        return len(self.rooms) + self.left_out > 1

    @property
    def lots_say(self) -> str:
        """What the comparison of lots came to, where no lot stands out or besides those that do."""
        if not self.lots:
            return "No film lot was named on a sheet in this while."
        where = f"in {counted(len(self.rooms), 'room')}"
        if self.bad_lots:
            return f"{counted(self.lots, 'film lot')} were compared {where}."
        lots = counted(self.lots, "film lot was", "film lots were")
        return f"No lot holds more jobs than the others do: {lots} compared {where}."


def age_says(age: timedelta) -> str:
    """Return how long ago something was, in its largest unit."""
    if age < -_SKEW:
        return f"{_span(-age)} ahead of this room's clock"
    if age < timedelta(minutes=1):
        return "just now"
    return f"{_span(age)} ago"


def _span(length: timedelta) -> str:
    minutes = int(length.total_seconds() // 60)
    for size, noun in ((24 * 60, "day"), (60, "hour")):
        if minutes >= size:
            return counted(minutes // size, noun)
    return counted(minutes, "minute")
