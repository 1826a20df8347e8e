r"""Tables as CSV that a spreadsheet opens without harm and this program reads back as it was.

A text that a spreadsheet would take for a formula gets a quote in front, and so does one that
begins with a quote already, so that taking one away gives the text back. `\N` is no value.
"""

from __future__ import annotations

import csv
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Boolean, Double, Integer

from gatekeeper.history import trouble
from gatekeeper.history.columns import Instant

if TYPE_CHECKING:
    from _csv import Reader as CsvReader  # in the type checker's world only
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from sqlalchemy import Column, Table

NOTHING: Final = r"\N"
_GUARDED: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "'", "\\")
_LARGEST_CELL: Final = 100_000_000

ending = "csv"


def cell_of(value: object) -> str:
    """Return a cell."""
    if value is None:
        return NOTHING
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_GUARDED) else value
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, datetime) else repr(value)


def write(path: Path, table: Table, rows: Iterable[dict[str, Any]]) -> int:
    """Write a table, and return how many rows it has."""
    names = [column.name for column in table.columns]
    number = 0
    with path.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        for row in rows:
            writer.writerow([cell_of(row[name]) for name in names])
            number += 1
    return number


def read(path: Path, table: Table) -> Iterator[dict[str, Any]]:
    """Yield the rows of a file that `write` has written."""
    with _cells_of_any_length(), path.open(encoding="utf-8-sig", newline="") as file:
        yield from _rows_of(csv.reader(file), table, str(path))


def _rows_of(lines: CsvReader, table: Table, place: str) -> Iterator[dict[str, Any]]:
    readers = {column.name: _reader_of(column) for column in table.columns}
    names = next(lines, [])
    if set(names) != readers.keys():
        raise trouble.no_such_table(table.name, place)
    for line in lines:
        try:
            yield {
                name: None if cell == NOTHING else readers[name](cell)
                for name, cell in zip(names, line, strict=True)
            }
        except ValueError as error:
            raise trouble.no_such_row(lines.line_num, place) from error


@contextmanager
def _cells_of_any_length() -> Iterator[None]:
    """Lift the limit of cells for a while: it is one for the whole program, and sheets need it."""
    before = csv.field_size_limit(_LARGEST_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)


def _reader_of(column: Column[Any]) -> Callable[[str], Any]:
    if isinstance(column.type, Boolean):
        return _truth_of
    if isinstance(column.type, Instant):
        return datetime.fromisoformat
    if isinstance(column.type, Double):
        return float
    if isinstance(column.type, Integer):
        return int
    return lambda cell: cell.removeprefix("'")


def _truth_of(cell: str) -> bool:
    if cell not in {"true", "false"}:
        raise ValueError(cell)
    return cell == "true"
