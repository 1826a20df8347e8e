"""Is a group at rest? It must keep its identity for a while by the monotonic clock, over two looks.

mtime is compared for being equal, never for being old: copies set old ones. Empty files wait, since
a share can show a file at 0 bytes for seconds, and are taken after a long time so that nothing
waits for ever.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import signal
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.tickets import Identity
    from gatekeeper.intake.scan import Group

EMPTY_S = 600.0
"""An empty file is taken, and held as empty, after this long (s)."""

_STILL_WRITTEN = {errno.EACCES, errno.EBUSY, errno.ETXTBSY, errno.EAGAIN}


@dataclass(slots=True)
class _Watched:
    files: tuple[Identity, ...]
    since: float
    looks: int = 1


@dataclass(slots=True)
class Settler:
    """Remembers what each group looked like and since when."""

    settle_s: float
    unended_s: float
    looks_needed: int = 2
    _seen: dict[tuple[str, str], _Watched] = field(default_factory=dict)

    def look(self, folder: str, groups: tuple[Group, ...], now: float) -> None:
        """Note one look at a drop folder; groups that are gone are forgotten."""
        present = {(folder, group.key) for group in groups}
        for key in [key for key in self._seen if key[0] == folder and key not in present]:
            del self._seen[key]
        for group in groups:
            watched = self._seen.get((folder, group.key))
            if watched and watched.files == group.files:
                watched.looks += 1
            else:
                self._seen[folder, group.key] = _Watched(group.files, now)

    def rests_in(self, folder: str, group: Group, now: float, *, whole: bool) -> float:
        """Return the seconds until the group is at rest, 0 when it is.

        Parameters
        ----------
        whole : every sheet's last line has its end; cut inside the last number it looks perfect
        """
        watched = self._seen[folder, group.key]
        needed = self.settle_s
        if not whole and self.settle_s > 0:
            needed = max(needed, self.unended_s)
        if any(file.size == 0 for file in group.files):
            needed = EMPTY_S
        left = watched.since + needed - now
        if left > 0:
            return left
        return 0.0 if watched.looks >= self.looks_needed else max(self.settle_s / 2, 0.01)


def someone_writes(path: Path) -> bool:
    """Whether a program on this machine has the file open for writing, as far as the kernel tells.

    A read lease is refused with EAGAIN while anyone writes, a share's server included. Leases need
    the file's owner or a privilege, and network mounts know nothing of other machines: then the
    answer is no, and resting must do.
    """
    # A writer who opens the file in this moment sends SIGIO, whose usual action ends the program.
    with contextlib.suppress(
        ValueError
    ):  # not the main thread: the service has done it at its start
        signal.signal(signal.SIGIO, signal.SIG_IGN)
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        return error.errno in _STILL_WRITTEN
    try:
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except OSError as error:
        return error.errno == errno.EAGAIN
    finally:
        os.close(handle)
    return False
