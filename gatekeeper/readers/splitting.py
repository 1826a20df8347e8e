"""Text → rows of cells, within the site's limits."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.grid import Row

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.readers.interface import Declarations

BLANKS = " "
"""As a separator: any run of blanks and tabs, without quoting."""

STATED_SEPARATOR = re.compile(r"sep=([,;\t])\n?")
"""First line by which spreadsheet programs state the separator."""


def rows_of(text: str, separator: str, limits: Declarations) -> Iterator[Row]:
    """Return the rows that are not empty, each with the line that it begins in.

    Raises
    ------
    UnreadableSheetError : while iterating: quotes that do not match, or more rows, columns or text
        than the limits allow
    """
    if separator == BLANKS:
        return _rows_at_blanks(text, limits)
    if stated := STATED_SEPARATOR.match(text):
        text = "\n" * stated[0].count("\n") + text[stated.end() :]
    return _rows_at(separator, text, limits)


def _rows_at_blanks(text: str, limits: Declarations) -> Iterator[Row]:
    for line, cells in enumerate(map(str.split, text.split("\n")), 1):
        if cells:
            refuse_beyond(line, line, cells, limits)
            yield Row(line, cells)


def _rows_at(separator: str, text: str, limits: Declarations) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline="\n"), delimiter=separator, strict=True)
    may_be_long = len(text) > limits.max_cell
    line = number = 1
    try:
        for cells in reader:
            if cells:
                if may_be_long or number > limits.max_rows or len(cells) > limits.max_columns:
                    refuse_beyond(line, number, cells, limits)
                yield Row(line, cells)
            number += 1
            line = reader.line_num + 1
    except csv.Error as error:
        raise _broken(error, line, limits) from error


def refuse_beyond(line: int, number: int, cells: Sequence[str], limits: Declarations) -> None:
    """Raise when a row, the `number`th, is more than the site's limits allow."""
    if number > limits.max_rows:
        raise beyond(f"more than {limits.max_rows} rows", line)
    if len(cells) > limits.max_columns:
        raise beyond(f"more than {limits.max_columns} columns", line)
    if max(map(len, cells)) > limits.max_cell:
        raise beyond(f"a cell of more than {limits.max_cell} characters", line)


def beyond(what: str, line: int) -> UnreadableSheetError:
    """Return the error for a file that is larger than a sheet of readings can be."""
    return UnreadableSheetError(
        f"the file has {what}",
        where=f"line {line}",
        do="look whether it is a sheet of readings, and keep only the readings in it",
    )


def _broken(error: csv.Error, line: int, limits: Declarations) -> UnreadableSheetError:
    if "limit" in str(error):  # the module's own limit on a cell lies far above ours
        return beyond(f"a cell of more than {limits.max_cell} characters", line)
    return UnreadableSheetError(
        "a quotation mark has no partner, so that cells cannot be told apart",
        where=f"line {line}",
        do='put a " at both ends of the cell, and write "" for one inside',
    )
