"""The rows of a history file, told by tickets and names: numbers of rows say nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

OF_VERDICT = "join verdicts v on v.id = t.verdict_id"
OF_SHEET = "join sheets s on s.id = t.sheet_id"

TABLES = {
    "verdicts": ("", ""),
    "sheets": ("", ""),
    "judged": (f"{OF_VERDICT} {OF_SHEET}", "v.ticket, s.ticket, s.name"),
    "findings": (OF_VERDICT, "v.ticket"),
    "negatives": (OF_SHEET, "s.ticket, s.name"),
    "readings": (OF_SHEET, "s.ticket, s.name"),
    "tallies": ("", ""),
    "rule_sets": ("", ""),
}
"""Tables, what each is joined with, and by what its rows are known then."""

OWN = {"id", "sequence", "verdict_id", "sheet_id", "filed_at", "first_seen"}
"""What a history made anew gives in another way: its own numbers, and moments of its own."""

LATE = {"verdicts": {"printer", "film_lot", "meter"}, "sheets": {"job"}}
"""What a verdict that is told late, behind a later one of its job, may lack or spell otherwise."""


def rows_of(file: Path) -> dict[str, set[tuple]]:
    """Return every row of every table but the audit trail."""
    with closing(sqlite3.connect(file)) as database:
        return {table: _rows(database, table, *how) for table, how in TABLES.items()}


def _rows(database: sqlite3.Connection, table: str, joined: str, known_by: str) -> set[tuple]:
    named = [row[1] for row in database.execute(f"pragma table_info({table})")]
    columns = [known_by] if known_by else []
    columns += [f't."{name}"' for name in named if name not in OWN | LATE.get(table, set())]
    text = f"select {', '.join(columns)} from {table} t {joined}"  # noqa: S608 -- our own words
    return set(database.execute(text))
