"""System calls of the real program, as strace sees them, and faults put into them."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

from plate_room import ENVIRONMENT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from plate_room import PlateRoom

CHECKOUT = Path(__file__).parents[2]

CHANGING = {
    *("mkdir", "mkdirat", "rmdir", "rename", "renameat", "renameat2", "link", "linkat"),
    *("symlink", "unlink", "unlinkat", "write", "pwrite64", "writev", "ftruncate", "fallocate"),
    *("fsync", "fdatasync", "sync_file_range", "chmod", "fchmod", "chown", "fchown", "utimensat"),
}
"""What changes a disk or waits for it; `openat` does where it creates."""

_LINE = re.compile(r"(\d+)\s+(?:\d+\.\d+\s+)?(\w+)\((.*)")
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


def begin(
    room: PlateRoom, *before: str, stderr: IO[bytes] | int = subprocess.DEVNULL
) -> subprocess.Popen:
    """Begin a sweep."""
    command = [*before, sys.executable, "-m", "gatekeeper", "--site", str(room.site.root)]
    return subprocess.Popen(
        [*command, "sweep", "--settle", "0"],
        env=ENVIRONMENT,
        cwd=CHECKOUT,
        stdout=subprocess.DEVNULL,
        stderr=stderr,
    )


def traced(strace: str, room: PlateRoom, folder: Path) -> list[Call]:
    """Sweep once and return every call of the main thread on the site's own files, in order.

    The calls before them load the program. None are returned where strace may not trace.
    """
    trace = folder / "trace"
    begin(room, strace, "-f", "-y", "-qq", "-o", str(trace)).wait(120)
    lines = trace.read_text(errors="replace").splitlines() if trace.exists() else []
    return list(_calls(lines, str(room.site.root)))


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


def struck(strace: str, room: PlateRoom, call: Call, fault: str, folder: Path) -> Ended:
    """Sweep with one system call going wrong; `fault` as strace spells it."""
    trace, said = folder / "struck", folder / "said"
    inject = ("-e", f"trace={call.name}", "-e", f"inject={call.name}:{fault}")
    with said.open("wb") as stderr:
        process = begin(room, strace, "-f", "-qq", "-o", str(trace), *inject, stderr=stderr)
        status = process.wait(120)
    text = trace.read_text(errors="replace")
    was_struck = "(INJECTED)" in text or "killed by SIGKILL" in text
    return Ended(status, was_struck, said.read_text(errors="replace"))
