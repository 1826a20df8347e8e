"""`rules try` over a long history, over reading the rows that it has to look at."""

from __future__ import annotations

import shutil
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

from gatekeeper.clock import SystemClock
from gatekeeper.trying.rehearsing import rehearse_folder
from gatekeeper.workshop import history_of
from tests.bench.past_jobs import fill, lay_out_with_two_jobs
from tests.bench.table import Figure, ms, print_table

_EDITS = (
    ("a tighter limit", "min: 2.70", "min: 2.80"),
    ("another tint", "tints:\n", "tints:\n  - {nominal: 75, tolerance: 2}\n"),
)
_ROWS = ("verdicts", "judged", "sheets", "negatives", "findings", "readings")


def measure(jobs: int) -> list[Figure]:
    """Return a figure for each kind of edit."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "site"
        site = lay_out_with_two_jobs(root)
        with history_of(site, SystemClock()) as record:
            fill(record._database, jobs, lambda *_: None)  # noqa: SLF001 -- rows, not verdicts
        plain = _read_rows(site.state / "history.sqlite")
        figures = []
        for name, before, after in _EDITS:
            edited = Path(folder) / name
            shutil.copytree(root, edited, ignore=shutil.ignore_patterns("state", "drop"))
            rules = edited / "workflows" / "liquid-plate.yaml"
            rules.write_text(rules.read_text().replace(before, after, 1))
            begin = time.perf_counter()
            rehearsal = rehearse_folder(site, edited, None, "", "")
            took = time.perf_counter() - begin
            how = f"{rehearsal.jobs} jobs, {ms(took)} ÷ their rows alone {ms(plain)}"
            figures.append(Figure(f"`rules try`: {name}", f"{took / plain:.1f}", "at most 4", how))
        return figures


def _read_rows(file: Path) -> float:
    begin = time.perf_counter()
    with sqlite3.connect(file) as connection:
        for table in _ROWS:
            for _ in connection.execute(f"SELECT * FROM {table}"):  # noqa: S608 -- our own names
                pass
    took = time.perf_counter() - begin
    connection.close()
    return took


if __name__ == "__main__":
    print_table(measure(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000))
