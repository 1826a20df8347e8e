"""What a look at an installation answers, and what it looks at beside the site itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.clock import Clock, SystemClock
from gatekeeper.history.mounts import TABLE
from gatekeeper.intake.readiness import ROOM_TO_SPARE
from gatekeeper.screens.alarms import FILLING_BYTES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from gatekeeper.doctor.access import Access
    from gatekeeper.room import Book
    from gatekeeper.site import Site


class State(Enum):
    """How bad it is."""

    OK = "ok"
    LOOK = "look"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Answer:
    """One line: what was looked at, how it is, what to do."""

    state: State
    subject: str
    says: str
    do: str = ""

    def as_data(self) -> dict[str, str]:
        """Return the line for other programs."""
        return {
            "state": self.state.value,
            "subject": self.subject,
            "says": self.says,
            "do": self.do,
        }


def ok(subject: str, says: str) -> Answer:
    """Return the answer that all is well."""
    return Answer(State.OK, subject, says)


def look(subject: str, says: str, do: str) -> Answer:
    """Return the answer that somebody should look, though the gate does its work."""
    return Answer(State.LOOK, subject, says, do)


def broken(subject: str, says: str, do: str) -> Answer:
    """Return the answer that the gate cannot do its work, or that its record is in doubt."""
    return Answer(State.BROKEN, subject, says, do)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What the machine says, so that a test can say otherwise."""

    clock: Clock = field(default_factory=SystemClock)
    mounts: Path = TABLE
    processes: Path = Path("/proc")
    inotify: Path = Path("/proc/sys/fs/inotify")
    full_bytes: int = ROOM_TO_SPARE  # free, below which the gate takes nothing in
    filling_bytes: int = FILLING_BYTES  # free, below which somebody should make room
    is_deep: bool = False  # whether to read all of the history


@dataclass(frozen=True, slots=True)
class Ward:
    """All that a look is handed."""

    site: Site
    book: Book
    access: Access
    around: Circumstances


if TYPE_CHECKING:
    Look = Callable[[Ward], Iterator[Answer]]
