"""System calls of the real program, as strace sees them, and faults put into them."""

from __future__ import annotations

import os
import re
import signal
import subprocess
from dataclasses import dataclass
from typing import TYPE_CHECKING

from forks import Forks, traced_by

if TYPE_CHECKING:
    from collections.abc import Iterator

    from plate_room import PlateRoom

CHANGING = {
    *("mkdir", "mkdirat", "rmdir", "rename", "renameat", "renameat2", "link", "linkat"),
    *("symlink", "unlink", "unlinkat", "write", "pwrite64", "writev", "ftruncate", "fallocate"),
    *("fsync", "fdatasync", "syncfs", "sync_file_range", "chmod", "fchmod", "chown", "fchown"),
    "utimensat",
}
"""What changes a disk or waits for it; `openat` does where it creates."""

_LINE = re.compile(r"(\d+)\s+(\w+)\((.*)")
_CREATES = re.compile(r"O_CREAT|O_TRUNC")


@dataclass(frozen=True)
class Call:
    """The nth call of its name that the main thread makes."""

    name: str
    nth: int
    changes: bool

    def __str__(self) -> str:
        return f"{self.name} {self.nth}"


@dataclass(frozen=True)
class Ended:
    """How a run went: its exit status, whether the fault struck, and what it wrote to stderr."""

    status: int
    was_struck: bool
    says: str


class Tracer:
    """Sweeps rooms under strace."""

    def __init__(self, strace: str, forks: Forks) -> None:
        self._strace = strace
        self._forks = forks

    def calls(self, room: PlateRoom) -> list[Call]:
        """Sweep and return every call of the main thread on the site's own files, in order.

        None are returned where strace may not trace.
        """
        lines, _, _ = self._run(room, "-y")
        return list(_calls(lines, str(room.site.root)))

    def struck(self, room: PlateRoom, call: Call, fault: str) -> Ended:
        """Sweep with one system call going wrong; `fault` as strace spells it."""
        inject = ("-e", f"trace={call.name}", "-e", f"inject={call.name}:{fault}")
        lines, status, says = self._run(room, *inject)
        was_struck = any("(INJECTED)" in line or "killed by SIGKILL" in line for line in lines)
        return Ended(status, was_struck, says)

    def _run(self, room: PlateRoom, *options: str) -> tuple[list[str], int, str]:
        trace, said = room.site.root.parent / "trace", room.site.root.parent / "said"
        process = self._forks.begin(room.site.root, said)
        strace = subprocess.Popen(
            [self._strace, "-f", "-qq", "-o", str(trace), "-p", str(process), *options],
            stderr=subprocess.DEVNULL,
        )
        traced_by(process, strace)
        os.kill(process, signal.SIGCONT)
        status = self._forks.end(process)
        strace.wait(60)
        lines = trace.read_text(errors="replace").splitlines() if trace.exists() else []
        return lines, status, said.read_text(errors="replace")


def _calls(lines: list[str], root: str) -> Iterator[Call]:
    counts: dict[str, int] = {}
    main = ""
    for line in lines:
        found = _LINE.match(line)
        if not found:
            continue  # the second half of a call, or a signal
        thread, name, rest = found.groups()
        main = main or thread  # strace counts for each thread of its own
        if thread != main:
            continue
        counts[name] = counts.get(name, 0) + 1
        if root in rest:
            changes = name in CHANGING or bool(name == "openat" and _CREATES.search(rest))
            yield Call(name, counts[name], changes)
