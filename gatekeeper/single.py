"""One gate of a name works on a site at a time: a lock that a crash frees by itself."""

from __future__ import annotations

import fcntl
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError

if TYPE_CHECKING:
    from collections.abc import Iterator


LOCK_TABLE = Path("/proc/locks")
"""Every lock of this machine, one a line: number, kind, advisory, mode, process, device:inode …"""


class AlreadyRunningError(RoomError):
    """Another program works on this site under the same gate's name."""


@contextmanager
def only_one(state: Path, gate: str) -> Iterator[SiteLock]:
    """Hold the site's lock for this gate.

    Raises
    ------
    AlreadyRunningError : somebody else holds it
    """
    lock = SiteLock(state, gate)
    try:
        yield lock
    finally:
        lock.let_go()


class SiteLock:
    """The lock of a site, held; also what tells the state folder from an empty mount point."""

    def __init__(self, state: Path, gate: str) -> None:
        self._state = state
        self._gate = gate
        self._path = state / f"{gate}.lock"
        self._folder = state.stat()
        self._handle = self._take(os.O_CREAT)

    def require(self) -> None:
        """Raise unless the lock's name still leads to what is held.

        The state folder may have been unmounted: then nothing is written to what stands in its
        place, and once it is back its lock is this one again, or under another device's number
        still the one that this process wrote. A lock file that a hand removed or replaced is made
        anew, for a second gate would find none and begin.

        Raises
        ------
        RoomError : the state folder is away
        AlreadyRunningError : a second gate has begun meanwhile
        OSError : it cannot be looked at
        """
        try:
            if os.path.samestat(self._path.stat(), os.fstat(self._handle)):
                return
            is_ours, flags = self._is_same_folder() or self._names_us(), 0
        except FileNotFoundError:
            is_ours, flags = self._is_same_folder(), os.O_CREAT
        if not is_ours:
            raise _state_away(self._state)
        handle = self._take(flags)
        os.close(self._handle)
        self._handle = handle

    def let_go(self) -> None:
        """Let another gate begin."""
        os.close(self._handle)

    def _is_same_folder(self) -> bool:
        try:
            return os.path.samestat(self._state.stat(), self._folder)
        except FileNotFoundError:
            return False

    def _names_us(self) -> bool:
        return self._path.read_bytes() == _own_word()

    def _take(self, flags: int) -> int:
        handle = os.open(self._path, os.O_RDWR | os.O_NOFOLLOW | os.O_CLOEXEC | flags, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            os.ftruncate(handle, 0)
            os.pwrite(handle, _own_word(), 0)
        except BlockingIOError as error:
            holder = os.pread(handle, 32, 0).decode("ascii", "replace").strip()
            os.close(handle)
            raise AlreadyRunningError(
                f"gate {self._gate} is already at work on this site"
                f" (process {holder or 'unknown'})",
                where=str(self._path),
                do="leave the work to it, or stop it first",
            ) from error
        except OSError:
            os.close(handle)
            raise
        return handle


def _own_word() -> bytes:
    return f"{os.getpid()}\n".encode()


def _state_away(state: Path) -> RoomError:
    return RoomError(
        f"{state} is away: another folder stands in its place, without this gate's lock",
        where=str(state),
        do="mount its disk again; nothing is judged until then",
    )


def is_at_work(state: Path, gate: str, table: Path = LOCK_TABLE) -> bool | None:
    """Whether somebody holds the site's lock; None where the system does not tell.

    The lock itself is not tried: a look that takes it, however briefly, could turn a gate away that
    begins in that moment.
    """
    try:
        locks = [words for line in table.read_text("ascii").splitlines() if (words := line.split())]
        lock = (state / f"{gate}.lock").stat()
        holder = (state / f"{gate}.lock").read_text("ascii", "replace").strip()
    except FileNotFoundError:
        return False if table.exists() else None  # a gate that ever began has left its lock file
    except OSError:
        return None
    held = [(words[4], words[5].rpartition(":")[2]) for words in locks if words[1] == "FLOCK"]
    # By inode or by process: what a layered filesystem says of a file is not what the kernel locks.
    return any(
        inode == str(lock.st_ino) or (process == holder and _may_have_open(process, lock))
        for process, inode in held
    )


def _may_have_open(process: str, lock: os.stat_result) -> bool:
    """Whether a process has the lock's file open, as far as it lets us see.

    A lock file that a crash left names a process whose number another one may have by now, and
    that one may be the gate of another site.
    """
    try:
        handles = list(Path("/proc", process, "fd").iterdir())
    except OSError:
        return True
    return any(_is_same(handle, lock) for handle in handles)


def _is_same(handle: Path, lock: os.stat_result) -> bool:
    try:
        return os.path.samestat(handle.stat(), lock)
    except OSError:
        return False  # closed meanwhile
