"""The demo: an invented plate room, and what becomes of the sheets of its week."""

from __future__ import annotations

import shutil
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.bundled import bundled
from gatekeeper.care.trend_watch import TrendWatch
from gatekeeper.demo.clock import DemoClock
from gatekeeper.demo.past import play_past
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.screens.page_files import Pages
from gatekeeper.screens.present import Present
from gatekeeper.workshop import PROGRAM, rounds_of
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import to_plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.rounds.outlook import FiledJob
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


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of the demo's sheets, in the order in which they were filed.

    `before` counts those of the weeks before, which stand in the history alone.
    """

    site: Site
    filed: tuple[FiledJob, ...]
    before: int = 0

    def newest(self) -> list[FiledJob]:
        """Return where each job stands at the end, held ones first."""
        by_job = {job.job: job for job in self.filed}
        return sorted(by_job.values(), key=lambda job: (job.decision == "approved", job.job))


def run_demo(root: Path) -> Outcome:
    """Build the site, let the weeks before go by, run the gate over the week, write the page.

    Raises
    ------
    UsageError : the folder is not empty and no demo of ours
    """
    site = build_site(root)
    before = sum(len(evening.filed) for evening in play_past(site))
    start, drops = read_table(site)
    book = read_book(site)
    clock = DemoClock(start)
    rounds = rounds_of(site, clock, lambda: book, settle_s=0.0)
    filed: list[FiledJob] = []
    with closing(rounds.ledger.history):
        for entries in drops:
            for entry in entries:
                for file in entry.files:
                    drop_file(site, file)
            filed += sweep_once(rounds).filed
    pages = Pages(site, clock)
    trends = TrendWatch(site, clock, start=lambda work: work()).look(book)
    pages.show_trends(trends.charts, trends.curves)
    at = clock.now().isoformat(timespec="seconds")
    pages.follow(book, Present(at, 0, PROGRAM, alarms=trends.doubts, news=trends.news))
    pages.end()
    return Outcome(site, tuple(filed), before)


def build_site(root: Path) -> Site:
    """Return a new site for the demo.

    Raises
    ------
    UsageError : the folder is not empty and no demo of ours
    """
    _clear(root)
    site, _ = lay_out(root, Disk())
    (root / MARK).write_text("made by `gatekeeper demo`, which may delete and make it anew\n")
    return site


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


def drop_file(site: Site, file: str) -> None:
    """Copy a sheet or companion, named with its drop folder, as people do."""
    workflow, name = file.split("/", 1)
    shutil.copyfile(bundled("examples") / "sheets" / file, site.drop / workflow / name)
