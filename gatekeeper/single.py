"""One gate of a name works on a site at a time: a lock that a crash frees by itself."""

from __future__ import annotations

import fcntl
import os
from contextlib import contextmanager
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class AlreadyRunningError(RoomError):
    """Another program works on this site under the same gate's name."""


@contextmanager
def only_one(state: Path, gate: str) -> Iterator[None]:
    """Hold the site's lock for this gate.

    Raises
    ------
    AlreadyRunningError : somebody else holds it
    """
    path = state / f"{gate}.lock"
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o644)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            holder = os.pread(handle, 32, 0).decode("ascii", "replace").strip()
            raise AlreadyRunningError(
                f"gate {gate} is already at work on this site (process {holder or 'unknown'})",
                where=str(path),
                do="leave the work to it, or stop it first",
            ) from error
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(handle)
