"""What a round found: what was filed, what waits and for what, and what is wrong with the room."""

from __future__ import annotations

import errno
from dataclasses import dataclass, field

from gatekeeper.errors import THEN, GatekeeperError
from gatekeeper.system_errors import advice, place_of
from gatekeeper.wording import plain

WITHOUT_SHEET = "waits for its sheet of readings"
"""Why a companion waits whose sheet nobody has dropped."""


@dataclass(frozen=True, slots=True)
class FiledJob:
    """A job that a round filed."""

    job: str
    workflow: str
    customer: str
    decision: str
    reason: str  # one line; empty when approved
    folder: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something in a drop folder or in work that is not filed, and why."""

    folder: str  # the drop folder, relative to the site
    name: str
    reason: str
    due_s: float | None = None  # seconds until it is worth another look; None: when somebody acts
    is_settling: bool = False  # it only needs to be at rest for a while


@dataclass(slots=True)
class Outlook:
    """The result of one round over the drop folders."""

    filed: list[FiledJob] = field(default_factory=list)
    waiting: list[Waiting] = field(default_factory=list)
    alarms: list[str] = field(default_factory=list)

    def add(self, other: Outlook) -> None:
        """Add what was found elsewhere."""
        self.filed += other.filed
        self.waiting += other.waiting
        self.alarms += other.alarms

    @property
    def next_due_s(self) -> float | None:
        """Seconds until the next look that is worth it, None when nothing is under way."""
        due = [entry.due_s for entry in self.waiting if entry.due_s is not None]
        return min(due) if due else None

    @property
    def is_done(self) -> bool:
        """Whether nothing is left in the drop folders and nothing is wrong with the room."""
        return not self.alarms and not self.waiting


def in_words(error: Exception) -> str:
    """Return a trouble in one line, as alarms and reasons say it."""
    if isinstance(error, GatekeeperError):
        return error.line
    if isinstance(error, OSError):
        name = errno.errorcode.get(error.errno or 0, "")
        says = f"{error.strerror or error} ({name}): {plain(place_of(error), 200)}"
        do = advice(error)
        return f"{says}{THEN}{do}" if do else says
    return str(error)


def says_and_do(alarm: str) -> tuple[str, str]:
    """Return what is wrong and what to do about it, "" where an alarm does not tell."""
    says, _, do = alarm.partition(THEN)
    return says, do
