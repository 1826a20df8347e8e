"""Whether a file of the history must be looked through before use; that takes longer as it grows.

A note beside the file says that it was closed in order, and what file and log were then: device,
inode, size and the moments of the last change, of which one cannot be set by hand. While a program
has the history open the note says nothing of the file, and a kill or a power cut leaves it so. Who
opens the history next looks through all of it where the note says nothing or tells of another file,
and where the last look is longer ago than `LONGEST`; through a large file beside the work, so that
a power cut does not keep the gate from its jobs for as long as the disk takes to be read.

What that loosens: pages that decay on the disk while nobody writes them are found when they are
read, by the nightly copy, by `gatekeeper doctor` or after `LONGEST`, and no longer at each start.
While a look goes on beside the work, a damaged history may answer and be written. Nothing is lost
by either: the job folders are the record, and the history is set aside and made again from them.

Programs that have the history open hold a shared lock on the note, which ends with them however
they end: one that comes beside another that lives need not look again.
"""

from __future__ import annotations

import fcntl
import json
import os
import threading
from contextlib import suppress
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pathlib import Path

NOTE: Final = ".closed"
LONGEST: Final = timedelta(days=7)

_LOG: Final = "-wal"
_MOST: Final = 10_000
_PAUSE_S: Final = 0.02


class Soundness:
    """The note of one file of the history."""

    def __init__(self, file: Path, *, wait_s: float) -> None:
        self._file = file
        self._note = file.with_name(file.name + NOTE)
        self._wait_s = wait_s
        self._handle: int | None = None
        self._looked = ""  # when all of the file was last looked through, ISO 8601

    def enter(self, now: datetime) -> bool:
        """Take the note in hand, and say whether the file is as it was when it was last looked at.

        Any doubt, also about the note itself, says no.
        """
        self.leave()
        try:
            handle = os.open(self._note, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o666)
            self._handle = handle
            if not _locked(handle, fcntl.LOCK_EX):
                return self._wait_for_the_other(handle)
            known = _read(handle)
            self._looked = str(known.get("looked", ""))
            _write(handle, {"looked": self._looked})
        except OSError:
            return False
        return known.get("is") == self._identity() and self._is_recent(now)

    def looked(self, now: datetime) -> None:
        """Remember that all of the file was looked through and found sound."""
        self._looked = now.isoformat()
        if self._handle is not None:
            with suppress(OSError):
                _write(self._handle, {"looked": self._looked})

    def entered(self) -> None:
        """Let others in: the file is sound, or was begun."""
        if self._handle is not None:
            with suppress(OSError):
                _locked(self._handle, fcntl.LOCK_SH)

    def leave(self, *, inode: int | None = None) -> None:
        """Let go of the note; where the file with this inode was closed in order, write it."""
        if self._handle is None:
            return
        handle, self._handle = self._handle, None
        with suppress(OSError):  # no note: the next start looks through the file
            identity = self._identity()
            is_ours = inode is not None and bool(identity) and identity[0][1] == inode
            if is_ours and _locked(handle, fcntl.LOCK_EX):
                _write(handle, {"is": identity, "looked": self._looked})
        os.close(handle)

    def _wait_for_the_other(self, handle: int) -> bool:
        """Wait until the program that has the note to itself has looked through the file."""
        pause = threading.Event()
        for _ in range(max(1, int(self._wait_s / _PAUSE_S))):
            if _locked(handle, fcntl.LOCK_SH):
                self._looked = str(_read(handle).get("looked", ""))
                return True
            pause.wait(_PAUSE_S)
        return False

    def _is_recent(self, now: datetime) -> bool:
        try:
            since = now - datetime.fromisoformat(self._looked)
        except (ValueError, TypeError):
            return False
        return timedelta(0) <= since < LONGEST

    def _identity(self) -> list[list[int]]:
        """Return what changes when the file or its log do; empty for one that is not there."""
        found = []
        for path in (self._file, self._file.with_name(self._file.name + _LOG)):
            try:
                entry = path.stat()
            except FileNotFoundError:
                found.append([0])
                continue
            moments = [entry.st_mtime_ns, entry.st_ctime_ns]
            found.append([entry.st_dev, entry.st_ino, entry.st_size, *moments])
        return found if len(found[0]) > 1 else []


def _locked(handle: int, kind: int) -> bool:
    try:
        fcntl.flock(handle, kind | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _read(handle: int) -> dict[str, object]:
    try:
        found = json.loads(os.pread(handle, _MOST, 0) or b"{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _write(handle: int, note: dict[str, object]) -> None:
    """Write the note over; cut short by a kill it is no JSON, which is a doubt like any other."""
    os.ftruncate(handle, 0)
    os.pwrite(handle, json.dumps(note).encode(), 0)
    os.fsync(handle)
