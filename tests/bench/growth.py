"""Does anything become slower as the history grows? `python -m tests.bench.growth [--jobs N]`.

Two sites with the same last three months, one with a thousand jobs before them and one with a
million, are asked and told the same things in turns; the table shows the ratio of the medians. It
never fails: what a figure means on a busy machine is for whoever reads it.
"""

from __future__ import annotations

import argparse
import gc
import itertools
import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.clock import SystemClock
from gatekeeper.control.review import Wanted
from gatekeeper.history import FiledSheet, FiledVerdict
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.record.sheets_told import readings_of
from gatekeeper.room import declarations_of, read_book
from gatekeeper.screens.glance import Glance
from gatekeeper.screens.lookback import review_site
from gatekeeper.verdict import Decision
from gatekeeper.workshop import history_of
from tests.bench.past_jobs import RECENT, fill, lay_out_with_two_jobs, sheet

if TYPE_CHECKING:
    from collections.abc import Callable

FEW = 1_000
MANY = 1_000_000
ROUNDS = 15


class Subject:
    """A site and what is asked of its history, by name; each question with its reach."""

    def __init__(self, root: Path, jobs: int, history: str = "") -> None:
        self.clock = SystemClock()
        self.site = lay_out_with_two_jobs(root, history)
        began = time.perf_counter()
        with history_of(self.site, self.clock) as record:
            fill(record._database, jobs, _say_count)  # noqa: SLF001 -- rows, not verdicts
        self.file = self.site.state / "history.sqlite"
        size = self.file.stat().st_size if self.file.exists() else 0
        print(f"{jobs:,} jobs in {time.perf_counter() - began:.0f} s, {size / 1e6:,.0f} MB")
        self.book = read_book(self.site)
        self.history = history_of(self.site, self.clock)
        self.pattern = self.history.job("J0000500")[0]
        self.numbers = itertools.count(1)
        self.glance = Glance(self.site, self.clock)

    def questions(self) -> dict[str, tuple[Callable[[], object], float]]:
        """Return what is measured, by its name, with the ratio that is to be reached."""
        ask = self.history
        return {
            "start, after an orderly stop": (self.start, 1.1),
            "start, after a kill": (self.start_after_kill, 0.0),
            "job: told to the history": (self.tell, 1.1),
            "job: what the gate asks": (self.ask_as_the_gate, 1.1),
            "jobs": (lambda: ask.jobs(limit=100), 2.0),
            "jobs --state held": (lambda: ask.jobs(state=Decision.HELD, limit=100), 2.0),
            "jobs --customer": (lambda: ask.jobs(customer="Quillmark Cartons", limit=100), 2.0),
            "jobs --since 90 days": (self.recent, 2.0),
            "why": (lambda: ask.job("J0000500"), 2.0),
            "trend, 90 days": (self.trend, 2.0),
            "page and board": (lambda: self.glance.look(self.book, None), 2.0),
            "rules at a moment": (self.rules_then, 2.0),
        }

    def start(self) -> None:
        self.history.close()
        self.history.head()

    def start_after_kill(self) -> None:
        self.history.close()
        (self.site.state / "history.sqlite.closed").unlink(missing_ok=True)
        self.history.head()

    def tell(self) -> None:
        number = next(self.numbers)
        job = f"N{number}"
        now = self.clock.now()
        ticket = f"{now:%Y%m%dT%H%M%S.%f}Z-{number:08x}"
        judged = replace(self.pattern.verdict.sheets[0], ticket=ticket, name=f"{job}.csv",
                         sha256=f"{number:064x}")  # fmt: skip
        verdict = replace(self.pattern.verdict, ticket=ticket, job=job, sheets=(judged,))
        content = sheet(job, "2.90", dot=f"{50 + number / 1000:.3f}").encode()
        declarations = declarations_of(self.site, self.book.profiles)
        read = read_sheet(RawFile(f"{job}.csv", content), declarations)
        filed = FiledSheet(f"{job}.csv", read, readings_of(read))
        folder = f"approved/liquid-plate/{job}"
        one = FiledVerdict(self.site.mark, verdict, folder, now, (filed,))
        began = time.perf_counter()
        self.history.remember(one)
        return time.perf_counter() - began

    def ask_as_the_gate(self) -> None:
        number = next(self.numbers)
        self.history.known_digest(f"{number:064x}", other_than_job="N")
        self.history.jobs_with_stem(f"stem {number}")

    def recent(self) -> object:
        return self.history.jobs(since=self.clock.now() - RECENT, limit=100)

    def trend(self) -> object:
        return review_site(self.site, self.book, Wanted(self.clock.now() - RECENT), self.clock)

    def rules_then(self) -> object:
        moment = self.clock.now() - RECENT
        return self.history.rules_at("liquid-plate", "Quillmark Cartons", moment)


def _say_count(count: int) -> None:
    print(f"  {count:,} jobs", end="\r", flush=True)


def took(question: Callable[[], object]) -> float:
    """Return how long a question took (s); one that has to prepare first says it itself."""
    began = time.perf_counter()
    answer = question()
    return answer if isinstance(answer, float) else time.perf_counter() - began


def compare(few: Subject, many: Subject) -> None:
    """Ask both in turns and print the table."""
    print(f"{'':32}{FEW:>12,} {'more':>12} {'ratio':>7} {'reach':>6}")
    others = many.questions()
    for name, (question, reach) in few.questions().items():
        other = others[name][0]
        times: tuple[list[float], list[float]] = ([], [])
        gc.collect()
        for _ in range(ROUNDS if reach else 3):
            times[0].append(took(question))
            times[1].append(took(other))
        one, two = (statistics.median(found) * 1000 for found in times)
        wanted = f"{reach:.1f}" if reach else "–"
        print(f"{name:32}{one:9.2f} ms {two:9.2f} ms {two / one:7.2f} {wanted:>6}")


def main(arguments: list[str] | None = None) -> None:
    """Run the benchmark."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--jobs", type=int, default=MANY, help="jobs of the longer history")
    options.add_argument("--folder", type=Path, help="where the two sites are laid out")
    chosen = options.parse_args(arguments)
    with tempfile.TemporaryDirectory(dir=chosen.folder) as folder:
        few = Subject(Path(folder) / "few", FEW)
        many = Subject(Path(folder) / "many", chosen.jobs)
        compare(few, many)
        for subject in (few, many):
            subject.history.close()
            subject.glance.close()


if __name__ == "__main__":
    main()
