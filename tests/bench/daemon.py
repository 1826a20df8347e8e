"""The real daemon over time: how soon it answers, what it costs at rest, whether it grows."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from watchdog.events import FileClosedEvent, FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

from tests.bench.bare import flush
from tests.bench.room import WORKFLOW, PlateRoom
from tests.bench.table import Figure, ms, print_table

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

PATIENCE_S = 60.0
PAUSE_S = 0.5
"""Between two sheets: whoever measures by hand is slower, and pages are written meanwhile."""
_TICKS = os.sysconf("SC_CLK_TCK")
_PAGE = os.sysconf("SC_PAGE_SIZE")


@contextmanager
def _daemon(settings: str = "", extra: Callable[[PlateRoom], None] | None = None) -> Iterator[_Run]:
    with tempfile.TemporaryDirectory() as folder:
        room = PlateRoom.at(Path(folder) / "site")
        file = room.site.root / "site.yaml"
        file.write_text(file.read_text().replace("settle_s: 2.0", "settle_s: 0") + settings)
        if extra:
            extra(room)
        command = [sys.executable, "-m", "gatekeeper", "--site", str(room.site.root), "run"]
        with (room.site.root.parent / "log").open("w") as log:
            process = subprocess.Popen(command, stdout=log, stderr=log)  # noqa: S603
        run = _Run(room, process)
        try:
            run.wait_for(room.site.state / "now.json")
            yield run
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(PATIENCE_S)


class _Run:
    """A daemon at work in a room of its own."""

    def __init__(self, room: PlateRoom, process: subprocess.Popen[bytes]) -> None:
        self.room = room
        self.process = process

    def wait_for(self, *paths: Path) -> None:
        """Return as soon as one of the paths is there."""
        end = time.monotonic() + PATIENCE_S
        while not any(path.exists() for path in paths):
            if time.monotonic() > end or self.process.poll() is not None:
                raise SystemExit(f"{paths[0]} did not come: the daemon is away or asleep")
            time.sleep(0.0002)

    def judge(self, name: str) -> float:
        """Drop one sheet; return the seconds from its close to its verdict."""
        now = datetime.now(self.room.site.time_zone) - timedelta(hours=1)
        sheet = self.room.sheet(name).replace("2026-11-20 09:40", f"{now:%Y-%m-%d %H:%M}")
        sheet = sheet.replace("2026-11-20 10:05", f"{now:%Y-%m-%d %H:%M}")
        (self.room.site.drop / WORKFLOW / f"{name}.csv").write_text(sheet)
        begin = time.perf_counter()
        roots = self.room.site.approved, self.room.site.held
        self.wait_for(*(root / WORKFLOW / name / "verdict.json" for root in roots))
        return time.perf_counter() - begin

    def seconds_used(self) -> float:
        """Return the processor time that the daemon and its children have used."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return sum(map(int, fields[11:15])) / _TICKS

    def resident(self) -> int:
        """Return the bytes that the daemon has in memory."""
        return int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1]) * _PAGE


class _Mover(FileSystemEventHandler):
    """The bare counterpart: woken by watchdog, it moves a file durably and says so."""

    def __init__(self, target: Path) -> None:
        self.target = target

    def on_any_event(self, event: FileSystemEvent) -> None:
        source = Path(os.fsdecode(event.src_path))
        flush(source)
        source.rename(self.target / source.name)
        flush(self.target)
        flush(source.parent)
        (self.target / f"{source.name}.done").touch()


@contextmanager
def _mover() -> Iterator[Callable[[str], float]]:
    with tempfile.TemporaryDirectory() as folder:
        drop, target = Path(folder) / "drop", Path(folder) / "target"
        drop.mkdir()
        target.mkdir()
        observer = Observer()
        observer.schedule(_Mover(target), str(drop), event_filter=[FileClosedEvent])
        observer.start()

        def move(name: str) -> float:
            (drop / name).write_text("readings" * 100)
            begin = time.perf_counter()
            while not (target / f"{name}.done").exists():
                time.sleep(0.0002)
            return time.perf_counter() - begin

        yield move
        observer.stop()
        observer.join()


def latency(times: int = 200) -> Figure:
    """Return file closed → verdict visible, over a bare wake-up and a bare durable move."""
    gate, bare = [], []
    with _daemon() as run, _mover() as move:
        for number in range(times):
            bare.append(move(f"m{number}"))
            gate.append(run.judge(f"L{number:05}"))
            time.sleep(PAUSE_S)
    how = f"median of {times}: {ms(median(gate))} ÷ {ms(median(bare))}"
    return Figure("verdict latency", f"{median(gate) / median(bare):.1f}", "at most 5", how)


def idle(seconds: float = 60.0, *, folders: int = 50, files: int = 5_000) -> Figure:
    """Return the share of one core that a daemon uses while nothing happens."""

    def litter(room: PlateRoom) -> None:
        for number in range(folders):
            folder = room.site.drop / f"folder-{number:02}"
            folder.mkdir()
            for file in range(files // folders):
                (folder / f"artwork-{file}.pdf").write_bytes(b"%PDF-1.7 no sheet of readings\n")

    with _daemon(extra=litter) as run:
        threading.Event().wait(20.0)  # it has seen them all, and written its page
        before = run.seconds_used()
        threading.Event().wait(seconds)
        share = (run.seconds_used() - before) / seconds
    how = f"{folders} drop folders with {files} files, {seconds:.0f} s"
    return Figure("idle", f"{share:.2%} of a core", "at most 0.2 %", how)


def memory(jobs: int = 6_000, *, first: int = 2_000) -> Figure:
    """Return how much the daemon grows from its first jobs to its last."""
    with _daemon() as run:
        before = after = 0
        for begun in range(0, jobs, first):
            run.room.drop(first)
            for number in range(begun + 1, begun + first + 1):
                name = f"B{number:07}"
                roots = run.room.site.approved, run.room.site.held
                run.wait_for(*(root / WORKFLOW / name / "verdict.json" for root in roots))
            after = run.resident()
            before = before or after
    grown = (after - before) / 1e6
    how = f"after {first} jobs {before / 1e6:.0f} MB, after {jobs} {after / 1e6:.0f} MB"
    return Figure("memory", f"{grown:+.1f} MB", "at most 5 MB", how)


if __name__ == "__main__":
    print_table([latency(), idle(), memory(int(sys.argv[1]) if len(sys.argv) > 1 else 6_000)])
