"""What the lead should know in the morning: what is held, what drifts, what runs out. Facts only.

Pure     no file, no clock, no database. All text has passed `wording.plain`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime

    from gatekeeper.control.shares import Share
    from gatekeeper.control.yields import Reason


@dataclass(frozen=True, slots=True)
class HeldLine:
    """One job that is held."""

    job: str
    workflow: str
    customer: str
    reason: str
    since: datetime


@dataclass(frozen=True, slots=True)
class DueLine:
    """One thing that runs out, or has run out."""

    subject: str
    last_day: date
    days_left: int
    says: str
    do: str


@dataclass(frozen=True, slots=True)
class DoubtLine:
    """A meter that failed its check, and the approved jobs that it may have passed wrongly."""

    says: str
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoomLine:
    """Another room of the same history: what it holds now, and its jobs since the digest before."""

    room: str
    held: int
    approved: int
    first_pass: Share


@dataclass(frozen=True, slots=True)
class Digest:
    """One morning.

    Attributes
    ----------
    since : from when jobs are counted: the digest before
    approved, first_pass, reasons : of the jobs filed since then
    held : jobs that are held now, the newest first; at most so many as are worth reading
    held_in_all : how many there are
    news : what somebody should act on; `watched` what shows but does not press
    candidates : curves that wait to be taken into use
    alarms : what is wrong with room or program
    others : further rooms of a shared history
    concessions : how many of the approved jobs do not conform, and may be used by a lead's word
    """

    room: str
    day: date
    since: datetime
    approved: int
    first_pass: Share
    reasons: tuple[Reason, ...]
    held: tuple[HeldLine, ...]
    held_in_all: int
    news: tuple[str, ...]
    watched: tuple[str, ...]
    dues: tuple[DueLine, ...]
    doubts: tuple[DoubtLine, ...]
    candidates: tuple[str, ...]
    alarms: tuple[str, ...]
    others: tuple[RoomLine, ...] = ()
    concessions: int = 0

    @property
    def is_quiet(self) -> bool:
        """Whether nothing asks for anybody."""
        return not (
            self.held_in_all
            or self.news
            or self.watched
            or self.dues
            or self.doubts
            or self.candidates
            or self.alarms
        )
