"""The table of a typed sheet: column names and rows of readings → patches by separation."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gatekeeper.readers.names import (
    PATCH_WORDS,
    TABLE_COLUMNS,
    plain_name,
    remark_unknown,
    remark_unknown_patch,
)
from gatekeeper.readers.patches import PatchMaker
from gatekeeper.readers.values import READINGS
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.readers.grid import Grid, Row, Table
    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.readers.values import ValueReader
    from gatekeeper.sheet import Patch

_HALF_BEFORE = re.compile(r"[<>≤≥=+−\-\s]*[0-9]+\s*")
_HALF_AFTER = re.compile(r"[0-9]+\s*(?:%|D|mm|cm|in|mil)?", re.IGNORECASE)


class TableReader:
    """Reads one table. The separations that it names come out in the order of their first row."""

    def __init__(self, table: Table, grid: Grid, values: ValueReader, remarks: Remarks) -> None:
        self._grid = grid
        self._remarks = remarks
        self._maker = PatchMaker(values, remarks)
        self._width = len(table.header.cells)
        self._columns = self._named_columns(table.header)
        self._patch = self._columns.pop("patch", None)
        self._separation = self._columns.pop("separation", None)
        self._items = tuple(self._columns.items())
        self._may_be_cut = [
            item for item in self._items if grid.splits_at_commas and item[0] in _MAY_BE_CUT
        ]
        self._rows = table.rows
        if self._patch is None:
            place = grid.trace(table.header.line, 1)
            remarks.problem("the table has no column patch", "name the column patch", place)

    def patches(self) -> dict[str, list[Patch]]:
        """Return the patches by the separation that their row names, or under the empty name."""
        found: dict[str, list[Patch]] = {}
        if self._patch is None:
            return found
        for row in self._rows:
            separation = self._cell(row, self._separation) if self._separation is not None else ""
            if self._is_whole(row, separation):
                patch = self._patch_of(row, separation)
                patches = found.setdefault(separation, [])
                if patch is not None:
                    patches.append(patch)
        return found

    def _named_columns(self, header: Row) -> dict[str, int]:
        columns: dict[str, int] = {}
        for index, written in enumerate(header.cells):
            name = plain_name(written)
            trace = self._grid.trace(header.line, index + 1)
            if name in columns:
                self._remarks.problem(
                    f"two columns are named {quoted(name)}", "keep or rename one of them", trace
                )
            elif name in TABLE_COLUMNS:
                columns[name] = index
            elif name:
                remark_unknown(self._remarks, "column", written.strip(), TABLE_COLUMNS, trace)
            else:
                columns[""] = index
        columns.pop("", None)
        return columns

    def _patch_of(self, row: Row, separation: str) -> Patch | None:
        cells, line, trace = row.cells, row.line, self._grid.trace
        word = self._cell(row, self._patch)
        kind = PATCH_WORDS.get(word) or PATCH_WORDS.get(word.casefold())
        if kind is None:
            place = trace(line, (self._patch or 0) + 1)
            remark_unknown_patch(self._remarks, word, place, separation)
            return None
        width = len(cells)
        named = [
            (column, text, trace(line, index + 1))
            for column, index in self._items
            if index < width and (text := cells[index].strip())
        ]
        return self._maker.make(kind, named, trace(line, 0), separation)

    def _cell(self, row: Row, index: int | None) -> str:
        return row.cells[index].strip() if index is not None and index < len(row.cells) else ""

    def _is_whole(self, row: Row, separation: str) -> bool:
        """Whether each cell stands below its column's name, none too many and none cut in two."""
        cells, width = row.cells, self._width
        if len(cells) > width and any(text.strip() for text in cells[width:]):
            self._too_many(row, separation)
            return False
        count = len(cells) - 1
        for column, index in self._may_be_cut:
            if (
                index < count
                and cells[index]
                and cells[index + 1]
                and _is_cut(cells, column, index)
            ):
                self._cut(row, index, separation)
                return False
        return True

    def _too_many(self, row: Row, separation: str) -> None:
        cut = next(
            (index for index in range(len(row.cells) - 1) if _halves(row.cells, index)), None
        )
        if self._grid.splits_at_commas and cut is not None:
            self._cut(row, cut, separation)
            return
        extra = [text for text in row.cells[self._width :] if text.strip()]
        self._remarks.problem(
            f"the row has more cells than the table has columns: {listing(extra)}",
            "give each cell a column, and put quotes round a text that has the separator in it",
            self._grid.trace(row.line, self._width + 1),
            separation,
        )

    def _cut(self, row: Row, index: int, separation: str) -> None:
        before, after = (plain(row.cells[at].strip(), 20) for at in (index, index + 1))
        self._remarks.problem(
            f'the cells "{before}" and "{after}" may be one number, {before},{after}, '
            "cut by a decimal comma in a file that is separated by commas",
            f"write {before}.{after}, separate the file by semicolons, or, when they are two "
            f"numbers, write {before}.0",
            self._grid.trace(row.line, index + 1),
            separation,
        )


_MAY_BE_CUT = frozenset(READINGS) | {"nominal"}


def _halves(cells: Sequence[str], index: int) -> bool:
    return bool(
        _HALF_BEFORE.fullmatch(cells[index]) and _HALF_AFTER.fullmatch(cells[index + 1].strip())
    )


def _is_cut(cells: Sequence[str], column: str, index: int) -> bool:
    """Whether two cells look like the halves of one number.

    A nominal is usually a whole number with another number beside it: there only a second half such
    as 05, which no number begins like, gives the cut away.
    """
    if "." in cells[index + 1] or not _halves(cells, index):
        return False
    after = cells[index + 1].strip()
    return column != "nominal" or (len(after) > 1 and after[0] == "0")
