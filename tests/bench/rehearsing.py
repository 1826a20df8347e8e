"""How long do edited rules take on the past? `python -m tests.bench.rehearsing [--jobs N]`.

The time of `rules try` over that of reading the very rows it needs, both as processor time of one
run on one history. It never fails: what a figure means is for whoever reads it.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import select

from gatekeeper.clock import SystemClock
from gatekeeper.history.replay import CHUNK, Whose
from gatekeeper.history.reread import PATCH
from gatekeeper.history.schema import judged, negatives, readings, sheets
from gatekeeper.room import YAML_FOLDERS, book_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.trying.rehearsal import rehearse
from gatekeeper.trying.rulebooks import past_of
from gatekeeper.workshop import history_of
from tests.bench.past_jobs import fill, lay_out_with_two_jobs
from tests.bench.table import Figure, print_table

if TYPE_CHECKING:
    from collections.abc import Callable

    from gatekeeper.history.replay import Replay
    from gatekeeper.site import Site

JOBS = 100_000
WORKFLOW = "workflows/liquid-plate.yaml"


class Edit(NamedTuple):
    """A change of the workflow's file, and which rows it takes to judge the past by it."""

    name: str
    old: str
    new: str
    rows: str


EDITS = (
    Edit("a limit's number", "min: 2.70", "min: 2.80", "answers"),
    Edit("a limit that is new", "  spread: 0.20", "  max: 3.0\n  spread: 0.20", "patches"),
    Edit("a tint that is new", "tints:\n", "tints:\n  - {nominal: 75, tolerance: 2}\n", "patches"),
    Edit("a list of stocks", "matte-5mil, matte-8mil", "matte-8mil", "heads"),
    Edit("guarded decisions", "tints:\n", "decision: {rule: guarded}\ntints:\n", "patches"),
)


def _read(past: Replay, rows: str) -> None:
    """Read what is needed, and do nothing with it."""
    ids = [job.id for job in past.jobs()]
    past.holding()
    if rows == "answers":
        sum(1 for _ in past.answers(["solid_density.min"]))
        return
    connection = past._connection  # noqa: SLF001 -- the same rows, by the same way
    for start in range(0, len(ids), CHUNK):
        chunk = ids[start : start + CHUNK]
        past.arrivals(chunk)
        told = (judged.c.verdict_id, sheets.c.id, sheets.c.name, sheets.c.sha256, sheets.c.ticket)
        query = select(*told).join(sheets, sheets.c.id == judged.c.sheet_id)
        found = connection.execute(query.where(judged.c.verdict_id.in_(chunk))).all()
        own = {row.id for row in found}
        heads = select(negatives.c.sheet_id, negatives.c.position, negatives.c.particulars)
        connection.execute(heads.where(negatives.c.sheet_id.in_(own))).all()
        if rows == "patches":
            cells = (readings.c[name] for name in ("sheet_id", "negative", *PATCH))
            connection.execute(select(*cells).where(readings.c.sheet_id.in_(own))).all()


def _took(site: Site, work: Callable[[Replay], object]) -> float:
    with past_of(site) as history, history.replay(Whose()) as past:
        begun = time.process_time()
        work(past)
        return time.process_time() - begun


def figures(site: Site) -> list[Figure]:
    """Return a line for each edit."""
    files = read_yaml_files(site.root, YAML_FOLDERS)
    with past_of(site) as history:
        texts = {rules.fingerprint: rules.text for rules in history.rule_sets_beginning("")}
    found: list[Figure] = []
    for edit in EDITS:
        text = files[WORKFLOW]
        if not isinstance(text, bytes) or edit.old.encode() not in text:
            raise ValueError(edit)
        edited = text.replace(edit.old.encode(), edit.new.encode(), 1)
        book = book_of(site, {**files, WORKFLOW: edited})

        def judge_again(past: Replay, book: object = book) -> object:
            return rehearse(past, book, texts.__getitem__, site.time_zone)  # type: ignore[arg-type]

        def read(past: Replay, rows: str = edit.rows) -> None:
            _read(past, rows)

        bare, whole = _took(site, read), _took(site, judge_again)
        how = f"{whole:.2f} s ÷ {bare:.2f} s of reading the same rows"
        found.append(Figure(f"`rules try`: {edit.name}", f"{whole / bare:.1f}", "at most 4", how))
    return found


def main(arguments: list[str] | None = None) -> None:
    """Lay out a site, fill its history and print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--jobs", type=int, default=JOBS, help="jobs of the history")
    options.add_argument("--folder", type=Path, help="where the site is laid out")
    chosen = options.parse_args(arguments)
    with tempfile.TemporaryDirectory(dir=chosen.folder) as folder:
        site = lay_out_with_two_jobs(Path(folder) / "site")
        with history_of(site, SystemClock()) as history:
            fill(history._database, chosen.jobs, lambda _: None)  # noqa: SLF001
        print_table(figures(site))


if __name__ == "__main__":
    main()
