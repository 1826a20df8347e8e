"""Disks that die, refuse, record or forget."""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import Disk, Flush

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path


class Died(BaseException):
    """The program was killed here. Nothing may catch it: a kill runs no handler."""


class DyingDisk(Disk):
    """Lets so many changes through and dies at the next."""

    whole_is_enough = False  # every flush counts

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
        return (
            self.paths[-1] if self.kind in {"mkdir", "create", "drop", "rename", "link"} else None
        )

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
        self._contents: dict[Path, bytes] = {}

    def before(self, operation: str, *paths: Path) -> None:
        if operation == "write" and self._creating:
            self._note("create", self._creating)
            self._creating = None
        super().before(operation, *paths)

    def flush(self, flush: Flush) -> None:
        super().flush(flush)
        if flush.is_folder:
            self._note("sync", flush.path)
        elif flush.handle is None:
            self._note("flushed", flush.path, content=flush.path.read_bytes())
        else:
            self._note("flushed", flush.path, content=self._contents.pop(flush.path))

    def _note(self, kind: str, *paths: Path, content: bytes = b"") -> None:
        self.log.append(Change(kind, paths, content))

    def make_folder(self, path: Path) -> None:
        super().make_folder(path)
        self._note("mkdir", path)

    def write_new(
        self, path: Path, content: bytes | Iterable[bytes], *, with_name: bool = False
    ) -> None:
        whole = content if isinstance(content, bytes) else b"".join(content)
        self._creating = path
        self._contents[path] = whole
        super().write_new(path, whole, with_name=with_name)

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


class RefusingDisk(DyingDisk):
    """Refuses one change, or every change from there on, as a disk does."""

    def __init__(self, after: int, number: int, *, for_good: bool) -> None:
        super().__init__(None)
        self.after = after
        self.number = number
        self.for_good = for_good
        self.refused = 0

    def before(self, operation: str, *paths: Path) -> None:
        super().before(operation, *paths)
        place = self.done - 1
        if place == self.after or (self.for_good and place > self.after):
            self.refused += 1
            raise OSError(self.number, os.strerror(self.number), str(paths[0]))


class HookedDisk(Disk):
    """Lets a test do something at the moment of a change."""

    def __init__(self, hook: Callable[[str, tuple[Path, ...]], None]) -> None:
        self.hook = hook

    def before(self, operation: str, *paths: Path) -> None:
        self.hook(operation, paths)


class SharedDisk(Disk):
    """A filesystem that cannot refuse a taken name by itself, as NFS cannot: EINVAL."""

    def __init__(self, after: int | None = None) -> None:
        super().__init__()
        self.left = after
        self.done = 0

    def before(self, operation: str, *paths: Path) -> None:
        if self.left is not None and self.done >= self.left:
            raise Died(operation, *map(str, paths))
        self.done += 1

    def rename_noreplace(self, source: Path, target: Path) -> None:
        raise OSError(errno.EINVAL, "not offered", str(source), None, str(target))


class StrikingDisk(DyingDisk):
    """Does something at a change that is so many changes away, and at each one from there on.

    A test that arms it takes that away again.
    """

    def __init__(self) -> None:
        super().__init__()
        self.bad_reads = 0  # of claimed files, that are still to fail
        self._at = 0
        self._act: Callable[[Path], None] | None = None

    def arm(self, after: int, act: Callable[[Path], None]) -> None:
        self._at, self._act = self.done + after, act

    def disarm(self) -> None:
        self.left, self._act, self.bad_reads = None, None, 0

    def before(self, operation: str, *paths: Path) -> None:
        super().before(operation, *paths)
        if self._act and self.done > self._at:
            self._act(paths[0])

    def read(self, path: Path, most: int) -> bytes:
        if path.parent.name == "in" and self.bad_reads > 0:
            self.bad_reads -= 1
            raise OSError(errno.EIO, os.strerror(errno.EIO), str(path))
        return super().read(path, most)
