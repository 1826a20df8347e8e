"""A ticket: one piece of work. Its file is written once and tells a restart what arrived."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.filing.desk import WORK

if TYPE_CHECKING:
    from collections.abc import Iterable

TICKET_FILE = "ticket.json"
_STAMP = "%Y%m%dT%H%M%S.%f"
_TICK = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Identity:
    """What tells this file from another that later bears its name."""

    name: str  # relative to the drop folder; `folder/file` for a dropped folder
    size: int
    mtime_ns: int
    inode: int  # 0 where the share gives a file another number each time it is mounted

    @property
    def own_name(self) -> str:
        """The last part of the name."""
        return self.name.rsplit("/", 1)[-1]

    def is_of(self, found: os.stat_result | None) -> bool:
        """Whether the entry found is still this file."""
        return (
            found is not None
            and (found.st_size, found.st_mtime_ns) == (self.size, self.mtime_ns)
            and self.inode in {0, found.st_ino}
        )


def identity_of(name: str, found: os.stat_result, *, has_inode: bool = True) -> Identity:
    """Return the identity of an entry."""
    return Identity(name, found.st_size, found.st_mtime_ns, found.st_ino if has_inode else 0)


@dataclass(frozen=True, slots=True)
class Ticket:
    """One arrived sheet with its companions."""

    id: str  # sorts by time, unique; its folder's name
    gate: str
    kind: str
    workflow: str  # of the drop folder, empty for drop/ itself
    arrived: str  # ISO 8601, UTC
    job_hint: str  # stem or dropped folder: names the job where the sheet does not
    sheet: Identity
    companions: tuple[Identity, ...] = ()
    refusal: str = ""  # why the sheet is held without being read: two sheets of one stem
    came_as: str = ""  # its first id, where a later sheet of its job overtook it
    beside: tuple[Identity, ...] = ()  # sheets refused with it, each with a ticket of its own

    @property
    def is_second_look(self) -> bool:
        """Whether it was made for an original that changed after it had been judged."""
        return self.sheet.name.startswith(f"{WORK}/")

    @property
    def sheet_id(self) -> str:
        """The id by which its sheet is ordered among those of its job: when it came."""
        return self.came_as or self.id

    def numbered_anew(self, new_id: str) -> Ticket:
        """Return the ticket under a later id; its sheet keeps its place among those of its job."""
        return replace(self, id=new_id, came_as=self.sheet_id)

    def for_beside(self, sheet: Identity, new_id: str) -> Ticket:
        """Return the ticket of a sheet beside it that has none yet."""
        return replace(self, id=new_id, sheet=sheet, companions=(), beside=())

    def to_bytes(self) -> bytes:
        """Return the file's content."""
        return (json.dumps(self, indent=1, sort_keys=True, default=_fields) + "\n").encode("ascii")


def _fields(part: object) -> dict[str, object]:
    if not isinstance(part, Ticket | Identity):
        raise TypeError(part)
    return {field.name: getattr(part, field.name) for field in fields(part)}


def ticket_of(content: bytes) -> Ticket | None:
    """Return the ticket of a file, None where the file is cut, empty or not a ticket."""
    try:
        data = json.loads(content)
        data["sheet"] = Identity(**data["sheet"])
        for name in ("companions", "beside"):
            data[name] = tuple(Identity(**entry) for entry in data.get(name, ()))
        ticket = Ticket(**data)
    except (ValueError, TypeError, KeyError):
        return None
    return ticket if _is_sound(ticket) else None


def _is_sound(ticket: Ticket) -> bool:
    """Whether every part has its type and no name leads out of the drop folder."""
    files = (ticket.sheet, *ticket.companions, *ticket.beside)
    words: list[object] = [ticket.id, ticket.came_as, ticket.gate, ticket.kind, ticket.workflow]
    words += [ticket.arrived, ticket.job_hint, ticket.refusal]
    words += [file.name for file in files]
    return (
        all(type(word) is str for word in words)
        and all(type(number) is int for f in files for number in (f.size, f.mtime_ns, f.inode))
        and all(_is_inside(file.name) for file in files)
        and (not ticket.workflow or _is_inside(ticket.workflow))
        and _moment(ticket.arrived) is not None
    )


def _is_inside(name: str) -> bool:
    return "\0" not in name and not any(part in {"", ".", ".."} for part in name.split("/"))


def _moment(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


class Sequence:
    """Gives ids that sort in the order of their making, even when the clock is set back."""

    def __init__(self) -> None:
        self._last = datetime.min.replace(tzinfo=UTC)

    def follow(self, ids: Iterable[str]) -> None:
        """Give only ids behind these from now on."""
        for known in ids:
            made = made_at(known)
            if made and made > self._last:
                self._last = made

    def is_ahead(self, ticket_id: str) -> bool:
        """Whether an id is ahead of all that were given here: another clock has made it."""
        made = made_at(ticket_id)
        return made is not None and made > self._last

    def next(self, now: datetime) -> str:
        """Return an id that no other gate or moment shares."""
        self._last = max(now.astimezone(UTC), self._last + _TICK)
        return f"{self._last.strftime(_STAMP)}Z-{os.urandom(4).hex()}"


def made_at(ticket_id: str) -> datetime | None:
    """Return the moment that a ticket's id carries, None where it carries none."""
    try:
        return datetime.strptime(ticket_id.split("Z-", 1)[0], _STAMP).replace(tzinfo=UTC)
    except ValueError:
        return None
