"""Disks that die, refuse, record or forget."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from gatekeeper.filing.disk import Disk


class Died(BaseException):
    """The program was killed here. Nothing may catch it: a kill runs no handler."""


class DyingDisk(Disk):
    """Lets so many changes through and dies at the next."""

    def __init__(self, after: int | None = None) -> None:
        self.left = after
        self.done = 0
        self.last = ""

    def before(self, operation: str, *paths: Path) -> None:
        super().before(operation, *paths)
        if self.left is not None and self.done >= self.left:
            raise Died(operation, *map(str, paths))
        self.done += 1
        self.last = operation


@dataclass(frozen=True)
class Change:
    """One change that the disk has made, or one flush."""

    kind: str
    paths: tuple[Path, ...]
    content: bytes = b""
    mtime_ns: int = 0

    @property
    def made(self) -> Path | None:
        """The name that it makes, None where it makes none."""
        return self.paths[-1] if self.kind in {"mkdir", "create", "drop", "rename", "link"} else None

    @property
    def folders(self) -> set[Path]:
        """The folders whose names it changes."""
        if self.kind in {"sync", "flushed", "commit"}:
            return set()
        return {path.parent for path in self.paths}


class RecordingDisk(DyingDisk):
    """Writes down every change and flush in the order in which they were made."""

    def __init__(self, log: list[Change], after: int | None = None) -> None:
        super().__init__(after)
        self.log = log
        self._creating: Path | None = None

    def before(self, operation: str, *paths: Path) -> None:
        if operation in {"write", "fsync"} and self._creating:
            self._note("create", self._creating)
            self._creating = None
        super().before(operation, *paths)

    def _note(self, kind: str, *paths: Path, content: bytes = b"") -> None:
        self.log.append(Change(kind, paths, content))

    def make_folder(self, path: Path) -> None:
        super().make_folder(path)
        self._note("mkdir", path)

    def write_new(self, path: Path, content: bytes | Iterable[bytes]) -> None:
        whole = content if isinstance(content, bytes) else b"".join(content)
        self._creating = path
        super().write_new(path, whole)
        self._note("flushed", path, content=whole)

    def sync(self, folder: Path) -> None:
        super().sync(folder)
        self._note("sync", folder)

    def sync_file(self, path: Path) -> None:
        super().sync_file(path)
        self._note("flushed", path, content=path.read_bytes())

    def rename_new(self, source: Path, target: Path) -> None:
        super().rename_new(source, target)
        self._note("rename", source, target)

    def link_new(self, source: Path, target: Path) -> None:
        super().link_new(source, target)
        self._note("link", source, target)

    def unlink(self, path: Path) -> None:
        was_there = path.exists()
        super().unlink(path)
        if was_there:
            self._note("unlink", path)

    def remove_folder(self, path: Path) -> None:
        was_there = path.exists()
        super().remove_folder(path)
        if was_there:
            self._note("rmdir", path)
