"""How long do edited rules take on the past? `python -m tests.bench.rehearsing [--jobs N]`.

The time of `rules try` over that of reading the very rows it needs, both as processor time of one
run on one history. It never fails: what a figure means is for whoever reads it.
"""

from __future__ import annotations

import argparse
import gc
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
from gatekeeper.yamlfiles.places import BrokenFilesError
from tests.bench.past_jobs import fill, lay_out_with_two_jobs
from tests.bench.scatter import scatter, write_register
from tests.bench.table import Figure, print_table

if TYPE_CHECKING:
    from collections.abc import Callable

    from gatekeeper.history.replay import Replay
    from gatekeeper.room import Book
    from gatekeeper.site import Site

JOBS = 100_000
WORKFLOW = "workflows/liquid-plate.yaml"
REGISTER = "register/years.yaml"
TINT = "{nominal: 75, tolerance: 2}"
GUARDED = "{rule: guarded}"
CLEAN = "{cleaned: ['yes']}"
NEWCOMER = "customer: Hollin Soups\n"


class Edit(NamedTuple):
    """A change of a file, wherever its text stands, and the rows it takes to judge the past by it.

    Rows are verdicts and the findings that held a job, and of each job the answers to a limit, the
    heads of its films, or their patches, too; `newcomers`: the patches of jobs without rules.
    """

    name: str
    file: str
    old: str
    new: str
    rows: str = ""


EDITS = (
    Edit("a limit's number", WORKFLOW, "min: 2.70", "min: 2.80", "answers"),
    Edit(
        "a limit that is new", WORKFLOW, "  spread: 0.20", "  max: 3.2\n  spread: 0.20", "patches"
    ),
    Edit("a tint that is new", WORKFLOW, "tints:\n", f"tints:\n  - {TINT}\n", "patches"),
    Edit("the area that prints", WORKFLOW, "reading: negative", "reading: positive", "patches"),
    Edit("guarded decisions", WORKFLOW, "tints:\n", f"decision: {GUARDED}\ntints:\n", "patches"),
    Edit("a list of stocks", WORKFLOW, "matte-5mil, matte-8mil", "matte-8mil", "heads"),
    Edit("a check switched on", WORKFLOW, "tints:\n", f"inspection: {CLEAN}\ntints:\n", "heads"),
    Edit("a check switched off", WORKFLOW, "linearization:\n  max_age_days: 30", "# none"),
    Edit("a customer's file that is new", "customers/hollin.yaml", "", NEWCOMER, "newcomers"),
    Edit(
        "a lot in the register",
        REGISTER,
        "M5-0020: {stock: matte-5mil",
        "M5-0020: {stock: matte-8mil",
        "heads",
    ),
    Edit(
        "every lot in the register",
        REGISTER,
        "stock: matte-5mil, made",
        "stock: matte-8mil, made",
        "heads",
    ),
    Edit("a meter in the register", REGISTER, "  Y-04: {", "  Y-40: {", "heads"),
    Edit("every meter in the register", REGISTER, "filter: visual", "filter: blue", "heads"),
    Edit("the curves in the register", REGISTER, "linearized: 2020-", "linearized: 2021-", "heads"),
)


def _read(past: Replay, rows: str) -> None:
    """Read what is needed, and do nothing with it."""
    jobs = past.jobs()
    past.holding()
    if rows == "answers":
        sum(1 for _ in past.answers(["solid_density.min"]))
    if rows not in {"heads", "patches", "newcomers"}:
        return
    ids = [job.id for job in jobs if rows != "newcomers" or not job.fingerprint]
    connection = past._connection  # noqa: SLF001 -- the same rows, by the same way
    for start in range(0, len(ids), CHUNK):
        chunk = ids[start : start + CHUNK]
        told = (judged.c.verdict_id, sheets.c.id, sheets.c.name, sheets.c.sha256, sheets.c.ticket)
        query = select(*told).join(sheets, sheets.c.id == judged.c.sheet_id)
        found = connection.execute(query.where(judged.c.verdict_id.in_(chunk))).all()
        own = {row.id for row in found}
        heads = select(negatives.c.sheet_id, negatives.c.position, negatives.c.particulars)
        connection.execute(heads.where(negatives.c.sheet_id.in_(own))).all()
        if rows != "heads":
            cells = (readings.c[name] for name in ("sheet_id", "negative", *PATCH))
            connection.execute(select(*cells).where(readings.c.sheet_id.in_(own))).all()


def _took(site: Site, work: Callable[[Replay], object]) -> float:
    """Return the processor time, without the search for cycles, which neither of the two needs."""
    with past_of(site) as history, history.replay(Whose()) as past:
        gc.collect()
        gc.disable()
        begun = time.process_time()
        work(past)
        taken = time.process_time() - begun
        gc.enable()
        return taken


def figures(site: Site) -> list[Figure]:
    """Return a line for each edit."""
    files = read_yaml_files(site.root, YAML_FOLDERS)
    register = book_of(site, files).register
    with past_of(site) as history:
        texts = {rules.fingerprint: rules.text for rules in history.rule_sets_beginning("")}
    found: list[Figure] = []
    for edit in EDITS:
        text = files.get(edit.file, b"")
        if not isinstance(text, bytes) or edit.old.encode() not in text:
            raise ValueError(edit)
        edited = text.replace(edit.old.encode(), edit.new.encode())
        book = book_of(site, {**files, edit.file: edited})
        if book.for_all or book.library.doubtful:
            raise BrokenFilesError(book.problems)

        def judge_again(past: Replay, book: Book = book) -> object:
            return rehearse(
                past, book, lambda known: texts.get(known, ""), site.time_zone, register=register
            )

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
            with history._database.writing() as connection:  # noqa: SLF001
                scatter(connection, chosen.jobs)
        write_register(site.root / REGISTER)
        print_table(figures(site))


if __name__ == "__main__":
    main()
