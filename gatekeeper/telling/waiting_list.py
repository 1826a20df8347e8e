"""Verdicts that nobody has been told of yet: one small file each, named by its ticket.

A file is laid in before its ticket is cleared away and taken out when the command has ended well. A
kill in between tells once more: at least once, never less.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.telling.event import LARGEST, Event, from_bytes, to_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk

FOLDER = "telling"
ASIDE = ".aside"

_NEW = ".new"


class WaitingList:
    """The folder of what waits to be told."""

    def __init__(self, disk: Disk, folder: Path) -> None:
        self._disk = disk
        self._folder = folder

    def put(self, event: Event) -> None:
        """Lay an event in, durably; one that lies there already changes nothing."""
        path = self._folder / str(event["ticket"])
        if self._disk.lstat(path) is not None:
            return
        if not self._disk.is_folder(self._folder):
            self._disk.make_folder(self._folder)
            self._disk.sync(self._folder.parent)
        temporary = path.with_name(path.name + _NEW)
        self._disk.unlink(temporary)
        self._disk.write_new(temporary, to_bytes(event))
        self._disk.rename_new(temporary, path)
        self._disk.sync(self._folder)

    def tickets(self) -> list[str]:
        """Return what waits, the oldest first: tickets sort by the time of arrival."""
        names = self._disk.names(self._folder)
        return [name for name in names if not name.endswith((_NEW, ASIDE))]

    def aside(self) -> list[str]:
        """Return what was given up."""
        names = self._disk.names(self._folder)
        return [name.removesuffix(ASIDE) for name in names if name.endswith(ASIDE)]

    def event(self, ticket: str) -> Event | None:
        """Return an event, None where its file is no event."""
        return from_bytes(self._disk.read(self._folder / ticket, LARGEST))

    def remove(self, ticket: str) -> None:
        """Take out what was told."""
        self._disk.unlink(self._folder / ticket)

    def set_aside(self, ticket: str) -> None:
        """Let what cannot be told hold up no others; it stays for whoever looks."""
        path = self._folder / ticket
        self._disk.unlink(path.with_name(ticket + ASIDE))
        self._disk.rename_new(path, path.with_name(ticket + ASIDE))
