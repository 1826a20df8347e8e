"""The demo: an invented plate room, its week of sheets dropped in order, and what becomes of each job."""

from __future__ import annotations

import shutil
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.bundled import bundled
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.show.tables import JobRow, print_jobs
from gatekeeper.sweeping import sweep_once
from gatekeeper.workshop import rounds_of
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import to_plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rich.console import Console

    from gatekeeper.outlook import FiledJob
    from gatekeeper.rounds import Rounds
    from gatekeeper.site import Site

MARK = ".gatekeeper-demo"
"""A folder with this file was made by the demo and may be made anew by it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One drop of the demo: files below sheets/, and what becomes of the job."""

    files: tuple[str, ...]
    job: str
    decision: str
    held_by: str
    shows: str


class DemoClock:
    """Stands at the moment for which the demo's sheets were written, and moves a second with each look."""

    def __init__(self, start: datetime) -> None:
        self._now = start

    def now(self) -> datetime:
        """Return a moment one second after the last."""
        self._now += timedelta(seconds=1)
        return self._now

    def monotonic(self) -> float:
        """Return the machine's own count: files really settle."""
        return time.monotonic()


def run_demo(root: Path, console: Console) -> None:
    """Build the site, drop the sheets, run the gate and print the outcome.

    Raises
    ------
    UsageError : the folder is not empty and no demo of ours
    """
    _clear(root)
    disk = Disk()
    site, _ = lay_out(root, disk)
    (root / MARK).write_text("made by `gatekeeper demo`, which may delete and make it anew\n")
    start, rounds_of_files = read_table(site)
    book = read_book(site)
    rounds = rounds_of(site, DemoClock(start), lambda: book, settle_s=0.0)
    print_out = console.print
    print_out(f"{site.name}: an invented plate room, laid out in {root}", markup=False)
    filed: list[FiledJob] = []
    shown: dict[str, str] = {}
    for entries in rounds_of_files:
        _drop(site, entries)
        filed += sweep_once(rounds).filed
        shown |= {entry.job: entry.shows for entry in entries}
    _print(console, site, rounds, filed, shown)


def read_table(site: Site) -> tuple[datetime, list[list[Entry]]]:
    """Return the demo's moment and its drops, those that go together in one list."""
    path = bundled("examples") / "jobs.yaml"
    table = to_plain(load(path.read_bytes(), path.name))
    if not isinstance(table, dict):
        raise TypeError(path.name)
    start = datetime.fromisoformat(table["clock"]).replace(tzinfo=site.time_zone)
    return start, [list(_entries(table[part])) for part in ("first", "then") if part in table]


def _entries(rows: list[dict[str, object]]) -> Iterator[Entry]:
    for row in rows:
        files = row["files"]
        yield Entry(
            files=tuple(files) if isinstance(files, list) else (str(files),),
            job=str(row["job"]),
            decision=str(row["decision"]),
            held_by=str(row.get("held_by", "")),
            shows=str(row["shows"]),
        )


def _clear(root: Path) -> None:
    if not root.exists() or not any(root.iterdir()):
        return
    if not (root / MARK).is_file():
        raise UsageError(
            f"{root} is not empty and was not made by the demo",
            do="name another folder: gatekeeper demo DIR; nothing was changed",
        )
    shutil.rmtree(root)


def _drop(site: Site, entries: list[Entry]) -> None:
    """Copy sheets and companions into their drop folders, as people do."""
    sheets = bundled("examples") / "sheets"
    for entry in entries:
        for file in entry.files:
            workflow, name = file.split("/", 1)
            shutil.copyfile(sheets / file, site.drop / workflow / name)


def _print(
    console: Console, site: Site, rounds: Rounds, filed: list[FiledJob], shown: dict[str, str]
) -> None:
    newest = {job.job: job for job in filed}
    console.print(
        f"{len(filed)} sheets went through the gate; this is where their {len(newest)} jobs stand:\n",
        markup=False,
    )
    rows = [
        JobRow("HELD" if job.decision == "held" else job.decision, job.job, job.workflow, job.customer, job.reason)
        for job in sorted(newest.values(), key=lambda job: (job.decision == "approved", job.job))
    ]
    print_jobs(console, rows)
    del shown, rounds
    held = next((job for job in newest.values() if job.decision == "held"), None)
    root = site.root
    console.print("\nlook further", markup=False)
    if held:
        console.print(f"  gatekeeper --site {root} why {held.job}", markup=False, soft_wrap=True)
    for line in (
        f"gatekeeper --site {root} jobs --state held",
        f"gatekeeper --site {root} rules show --workflow liquid-plate",
        f"ls {root}/approved/liquid-plate {root}/held/liquid-plate",
    ):
        console.print(f"  {line}", markup=False, soft_wrap=True)
