"""One call that makes a whole filesystem durable, for the flushes of many jobs at once.

Promise   Linux waits until the data and names of every file of the filesystem are on the disk:
          "the same guarantees as fsync called on every file" (syncfs(2), Linux manual). Errors of
          any file since the folder was opened are reported from Linux 5.8 on; on an older kernel,
          and on filesystems not named here, each file and folder is flushed for itself.
Price     Whatever other programs have written there is flushed with it. Where that takes long, the
          next flushes go one by one again.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import re
import time
from typing import TYPE_CHECKING, Self

from gatekeeper.history.mounts import TABLE, file_system_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

KINDS = frozenset({"btrfs", "ext3", "ext4", "xfs"})
"""Filesystems on disks of this machine whose whole flush keeps what fsync of each file promises."""

LONG_S = 1.0
"""A flush that took longer has waited for somebody else's bytes (s)."""

_TELLS_ERRORS = (5, 8)

_libc = ctypes.CDLL(None, use_errno=True)


class WholeDisks:
    """The filesystems on which a site lies, as far as one call flushes them; close it afterwards.

    Parameters
    ----------
    folders : one or more on each filesystem; absent ones are left out
    """

    def __init__(self, folders: Iterable[Path], table: Path = TABLE) -> None:
        self._handles: dict[int, int] = {}
        if _kernel() < _TELLS_ERRORS:
            return
        try:
            mounts = table.read_text(encoding="utf-8", errors="surrogateescape")
        except OSError:
            return
        for folder in folders:
            with contextlib.suppress(OSError):
                self._open(folder, mounts)

    def _open(self, folder: Path, mounts: str) -> None:
        device = folder.stat().st_dev
        if device not in self._handles and file_system_of(folder.resolve(), mounts) in KINDS:
            # Errors count from here on: it is open before the first byte is written.
            self._handles[device] = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)

    def __bool__(self) -> bool:
        return bool(self._handles)

    def __contains__(self, device: int) -> bool:
        return device in self._handles

    def flush(self, device: int) -> None:
        """Make a whole filesystem durable.

        Raises
        ------
        OSError : some file on it could not be written; which, nobody says
        """
        begun = time.monotonic()
        if _libc.syncfs(self._handles[device]):
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number))
        if time.monotonic() - begun > LONG_S:
            os.close(self._handles.pop(device))

    def close(self) -> None:
        """Let go of the filesystems."""
        while self._handles:
            os.close(self._handles.popitem()[1])

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _kernel() -> tuple[int, int]:
    found = re.match(r"(\d+)\.(\d+)", os.uname().release)
    return (int(found[1]), int(found[2])) if found else (0, 0)
