"""Rows of cells, wherever they come from, and their division into heads and tables.

A typed sheet is a head of `name,value` rows and a table below a row of column names. People leave
the blank row between them out, put blank rows elsewhere, and write several negatives below each
other; a field name at the start of a row below a table begins the next negative's block.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.readers.names import (
    FIELD_NAMES,
    PATCH_WORDS,
    TABLE_COLUMNS,
    is_patch_word,
    plain_name,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from gatekeeper.sheet import Trace

_COLUMNS = frozenset(TABLE_COLUMNS)
_ENOUGH_NAMES = 2  # column names in one row make it the row of column names


class Row(NamedTuple):
    """Cells as text, and the row's number in the file, counted from 1."""

    line: int
    cells: Sequence[str]


@dataclass(frozen=True, slots=True)
class Grid:
    """All rows of one table of cells."""

    rows: Iterable[Row]
    trace: Callable[[int, int], Trace]  # of (line, column), both counted from 1
    splits_at_commas: bool = False  # so that a decimal comma without quotes falls into two cells


@dataclass(slots=True)
class Table:
    """A row of column names and the rows below it."""

    header: Row
    rows: list[Row] = field(default_factory=list)


@dataclass(slots=True)
class Block:
    """What is said about one negative, or about several that a column tells apart."""

    head: list[Row] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)


def is_header(cells: Iterable[str]) -> bool:
    """Whether a row holds column names rather than values."""
    return len(_COLUMNS.intersection(map(plain_name, cells))) >= _ENOUGH_NAMES


def blocks_of(rows: Iterable[Row]) -> list[Block]:
    """Divide rows into blocks; blank rows and comment rows (# first) are left out."""
    block = Block()
    found = [block]
    patch_column = 0
    for row in rows:
        cells = row.cells
        if block.tables and len(cells) > patch_column and cells[patch_column] in PATCH_WORDS:
            block.tables[-1].rows.append(row)  # the usual row; the tests below are for the rest
        elif not any(map(str.strip, cells)) or cells[0].lstrip().startswith("#"):
            continue
        elif is_header(cells):
            block.tables.append(Table(row))
            patch_column = _patch_column(cells)
        elif block.tables and not _starts_block(cells, patch_column):
            block.tables[-1].rows.append(row)
        else:
            if block.tables:
                block = Block()
                found.append(block)
            block.head.append(row)
    return _with_footer_folded(found)


def _with_footer_folded(blocks: list[Block]) -> list[Block]:
    """Return the blocks; fields below the last table belong to it unless they name a separation."""
    *before, last = blocks
    if (
        not before
        or last.tables
        or any(plain_name(row.cells[0]) == "separation" for row in last.head)
    ):
        return blocks
    before[-1].head += last.head
    return before


def _patch_column(cells: Sequence[str]) -> int:
    names = list(map(plain_name, cells))
    return names.index("patch") if "patch" in names else 0


def _starts_block(cells: Sequence[str], patch_column: int) -> bool:
    if plain_name(cells[0]) not in FIELD_NAMES:
        return False
    patch = cells[patch_column] if patch_column < len(cells) else ""
    return not is_patch_word(patch)
