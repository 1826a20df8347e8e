"""A ticket: one piece of work. Its file is written once and tells a restart what arrived."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

TICKET_FILE = "ticket.json"


@dataclass(frozen=True, slots=True)
class Identity:
    """What tells this file from another that later bears its name."""

    name: str  # relative to the drop folder; `folder/file` for a dropped folder
    size: int
    mtime_ns: int
    inode: int

    @property
    def own_name(self) -> str:
        """The last part of the name."""
        return self.name.rsplit("/", 1)[-1]

    def is_of(self, found: os.stat_result | None) -> bool:
        """Whether the entry found is still this file."""
        return found is not None and (found.st_size, found.st_mtime_ns, found.st_ino) == (
            self.size,
            self.mtime_ns,
            self.inode,
        )


def identity_of(name: str, found: os.stat_result) -> Identity:
    """Return the identity of an entry."""
    return Identity(name, found.st_size, found.st_mtime_ns, found.st_ino)


@dataclass(frozen=True, slots=True)
class Ticket:
    """One arrived sheet with its companions."""

    id: str  # sorts by time, unique
    gate: str
    kind: str
    workflow: str  # of the drop folder, empty for drop/ itself
    arrived: str  # ISO 8601, UTC
    job_hint: str  # stem or dropped folder: names the job where the sheet does not
    sheet: Identity
    companions: tuple[Identity, ...] = ()
    refusal: str = ""  # why the sheet is held without being read: two sheets of one stem

    def to_bytes(self) -> bytes:
        """Return the file's content."""
        return (json.dumps(asdict(self), indent=1, sort_keys=True) + "\n").encode("ascii")


def ticket_of(content: bytes) -> Ticket | None:
    """Return the ticket of a file, None where the file is cut, empty or not a ticket."""
    try:
        data = json.loads(content)
        data["sheet"] = Identity(**data["sheet"])
        data["companions"] = tuple(Identity(**entry) for entry in data["companions"])
        return Ticket(**data)
    except (ValueError, TypeError, KeyError):
        return None


def new_id(now: datetime) -> str:
    """Return an id that sorts by time and that no other gate or moment shares."""
    return f"{now:%Y%m%dT%H%M%S.%f}Z-{os.urandom(4).hex()}"
