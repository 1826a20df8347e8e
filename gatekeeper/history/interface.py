"""What the history is handed, and the one kind of error that it raises."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.history.canonical import indexable

if TYPE_CHECKING:
    from datetime import datetime

    from gatekeeper.sheet import Patch, Sheet
    from gatekeeper.verdict import Verdict


class HistoryAwayError(RoomError):
    """The history cannot be used now: the gate goes on without it and catches up later."""


class NoHistoryYetError(HistoryAwayError):
    """There is nothing to look into: no history has been begun here."""


class OlderHistoryError(HistoryAwayError):
    """An earlier program wrote it, and whoever only looks does not upgrade it."""


class UnrecordableError(HistoryAwayError):
    """One verdict cannot be a row, now or later; the history itself is well."""


class EventKind(StrEnum):
    """What the audit chain tells of."""

    BEGUN = "history begun"
    UPGRADED = "history upgraded"
    VERDICT = "verdict"
    CONCESSION = "concession"
    RECALL = "recall"
    RULES = "rules changed"
    REGISTER = "register changed"
    START = "start"
    STOP = "stop"
    CLOCK = "clock stepped back"
    ALARM = "alarm"


@dataclass(frozen=True, slots=True)
class Wait:
    """Patience, in seconds."""

    lock_s: float = 20.0  # for another program that is writing
    answer_s: float = 30.0  # for a server's answer to one statement
    pause_s: float = 30.0  # after a failure: what is broken is left alone for so long, and no lock
    # is waited for: of a hundred jobs one has waited, which is enough


SHORT_WAIT = Wait(lock_s=2.0)
"""Of those for whom others wait. The gate lays what it cannot record into its outbox and goes on; a
screen says that the history is away."""


@dataclass(frozen=True, slots=True)
class Upgrade:
    """Which version the tables were of, which they are of, and the copy made in between."""

    found: int
    version: int
    copy: str = ""  # name of the file; empty where none was needed


@dataclass(frozen=True, slots=True)
class Reading:
    """One patch as read, and what was calculated from it."""

    negative: int  # position of its negative in the sheet, from 0
    patch: Patch
    net_density: float | None = None
    dot_percent: float | None = None


@dataclass(frozen=True, slots=True)
class FiledSheet:
    """One file of readings of the job, as it was understood."""

    name: str  # the file's name in the job folder, as the verdict's own list of sheets has it
    sheet: Sheet
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class FiledVerdict:
    """A job that stands in its folder with its verdict, ready to be remembered."""

    site: str
    verdict: Verdict
    folder: str  # of the job, relative to the site: approved/liquid-plate/1041
    filed_at: datetime  # aware of its time zone
    sheets: tuple[FiledSheet, ...] = ()  # those that could be read


def as_read(sheet: Sheet) -> tuple[Reading, ...]:
    """Return every patch of a sheet, in the order read, with nothing calculated."""
    return tuple(
        Reading(number, patch)
        for number, negative in enumerate(sheet.negatives)
        for patch in negative.patches
    )


def home_of(folder: str) -> str:
    """Return what a job folder keeps when it moves between approved and held: workflow and name."""
    return indexable("/".join(PurePosixPath(folder).parts[-2:]))


def job_key(name: str) -> str:
    """Return what makes two spellings one job to people: case, Unicode form, blanks do not count.

    Canonical caseless matching, Unicode Standard section 3.13, D145.
    """
    folded = unicodedata.normalize("NFD", name).casefold()
    return indexable(unicodedata.normalize("NFC", " ".join(folded.split())))
