"""What the history has not been told yet: one small file each, whole or not there at all.

A file holds the verdict itself, not only where it stands: by the time that the history is back, a
newer verdict may have taken its place and the folder may have moved.
"""

from __future__ import annotations

import errno
import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import count
from typing import TYPE_CHECKING

from gatekeeper.verdict_document import NotAVerdictError, from_bytes, to_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict import Verdict

EVENT = "-event-"
"""Stands in the name of a file that holds an event; no ticket has it."""

_NEW = ".new"
_LONGEST = 100_000_000


@dataclass(frozen=True, slots=True)
class Untold:
    """A filed verdict."""

    verdict: Verdict
    folder: str  # of the job when it was filed, relative to the site
    filed_at: str  # ISO 8601 with its zone

    @property
    def moment(self) -> datetime:
        """When the job was filed."""
        return datetime.fromisoformat(self.filed_at)

    def to_bytes(self) -> bytes:
        """Return the file's content: one line about it, then the verdict's own document."""
        about = json.dumps({"folder": self.folder, "filed_at": self.filed_at})
        return about.encode("ascii") + b"\n" + to_bytes(self.verdict)


@dataclass(frozen=True, slots=True)
class UntoldEvent:
    """Something else that the audit chain shall tell of."""

    kind: str
    subject: str
    document: Mapping[str, object]
    happened_at: str  # ISO 8601 with its zone
    name: str  # of its file; also what makes it this one, so that it is told once

    def to_bytes(self) -> bytes:
        """Return the file's content: one line."""
        facts = {
            "kind": self.kind,
            "subject": self.subject,
            "document": self.document,
            "happened_at": self.happened_at,
        }
        return json.dumps({"event": facts}).encode("ascii") + b"\n"


def untold_of(content: bytes, name: str = "") -> Untold | UntoldEvent | None:
    """Return what a file holds, None where it is cut or something else."""
    about, _, document = content.partition(b"\n")
    try:
        known = json.loads(about)
        if "event" in known:
            return UntoldEvent(**known["event"], name=name)
        untold = Untold(from_bytes(document).verdict, known["folder"], known["filed_at"])
        is_dated = untold.moment.tzinfo is not None
    except (NotAVerdictError, ValueError, TypeError, KeyError):
        return None
    return untold if is_dated else None


def _found(folder: Path) -> os.stat_result | None:
    try:
        return folder.stat()
    except FileNotFoundError:
        return None


class Outbox:
    """The folder of what waits to be told."""

    def __init__(self, disk: Disk, folder: Path) -> None:
        self._disk = disk
        self._folder = folder
        self._home = _found(folder.parent)

    def put(self, untold: Untold) -> None:
        """Lay a verdict in, durably; one that lies there already changes nothing."""
        self._lay(untold.verdict.ticket, untold.to_bytes())

    def put_event(
        self, kind: str, subject: str, document: Mapping[str, object], moment: datetime
    ) -> None:
        """Lay an event in, durably; its name sorts it among the verdicts by its moment."""
        stem = f"{moment.astimezone(UTC):%Y%m%dT%H%M%S.%f}Z{EVENT}"
        name = next(
            name
            for number in count(1)
            if self._disk.lstat(self._folder / (name := f"{stem}{number}")) is None
        )
        event = UntoldEvent(kind, subject, document, moment.isoformat(), name)
        self._lay(name, event.to_bytes())

    def waiting(self) -> Iterator[Untold | UntoldEvent]:
        """Yield what waits, oldest first; what a crash cut short is thrown away and put again."""
        for name in self._disk.names(self._folder):
            path = self._folder / name
            if name.endswith(_NEW):
                self._disk.unlink(path)
                continue
            untold = untold_of(self._disk.read(path, _LONGEST), name)
            if untold:
                yield untold

    def remove(self, untold: Untold | UntoldEvent) -> None:
        """Take out what was told."""
        name = untold.name if isinstance(untold, UntoldEvent) else untold.verdict.ticket
        self._disk.unlink(self._folder / name)

    def _require_home(self) -> None:
        """Raise where another folder stands in the state folder's place, such as a mount point."""
        home = self._folder.parent
        found = _found(home)
        if self._home and not (found and os.path.samestat(found, self._home)):
            raise OSError(errno.ENOENT, "another folder stands in its place", str(home))

    def _lay(self, name: str, content: bytes) -> None:
        path = self._folder / name
        if self._disk.lstat(path) is not None:
            return
        if not self._disk.is_folder(self._folder):
            self._require_home()
            self._disk.make_folder(self._folder)
        self._disk.sync(self._folder.parent)  # of one that is there as well: a kill may have come
        temporary = path.with_name(name + _NEW)
        self._disk.unlink(temporary)
        self._disk.write_new(temporary, content)
        self._disk.rename_new(temporary, path)
        self._disk.sync(self._folder)
