"""The typed sheet as text: cells separated by commas, semicolons or tabs.

The separator is the one that makes the known names appear; statistics of signs are not asked, for
on short sheets they are wrong. A first line `sep=;`, as spreadsheet programs write it, decides too.
"""

from __future__ import annotations

import re
from itertools import takewhile
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.encoding import decode, decode_head
from gatekeeper.readers.grid import Grid, is_header
from gatekeeper.readers.names import FIELD_NAMES, is_patch_word, plain_name
from gatekeeper.readers.remarks import Remarks
from gatekeeper.readers.splitting import STATED_SEPARATOR, rows_of
from gatekeeper.readers.typed_sheet import sheet_of
from gatekeeper.readers.values import ValueReader
from gatekeeper.sheet import Sheet, Trace
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.readers.grid import Row
    from gatekeeper.readers.interface import Declarations, RawFile

SEPARATORS = {",": "CSV", ";": "semicolons", "\t": "tabs"}
_LOOKED_AT = 60  # lines; the head of a sheet is shorter
_CLEAR = 2  # known names from which a text is a sheet for certain, whatever its ending
_COMMA_NUMBER = re.compile(r"(?:^|[;\t\n])[^\S\n]*[<>]?[^\S\n]*[+−-]?[0-9]+,[0-9]")


class Found(NamedTuple):
    """A separator and how many known names it makes appear."""

    separator: str
    names: int


class DelimitedReader:
    """Reads the typed sheet from delimited text."""

    format = "typed sheet (CSV)"
    endings = frozenset({".csv", ".tsv", ".txt"})

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether the beginning names fields or columns of a sheet."""
        return find_separator(decode_head(head, declarations.code_page)).names >= _CLEAR

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError`."""
        text, encoding = decode(file.content, declarations.code_page)
        separator, names = find_separator(text)
        if not names:
            raise _no_sheet(text)
        remarks = Remarks()
        if not encoding.startswith("UTF-"):
            remarks.note(f"the text was read as {encoding}")
        remarks.ends_with(text)
        commas_seen = separator != "," and _COMMA_NUMBER.search(text) is not None
        values = ValueReader.for_site(declarations, commas_seen=commas_seen)
        rows = list(rows_of(text, separator, declarations))
        if not text.endswith("\n"):
            _remark_cut(rows, remarks)
        grid = Grid(rows, Trace, splits_at_commas=separator == ",")
        return sheet_of(grid, values, remarks, f"typed sheet ({SEPARATORS[separator]})")


def _remark_cut(rows: Sequence[Row], remarks: Remarks) -> None:
    """Say that the last reading's row has fewer cells than every row above it in its table.

    Asked where the last line has no end. People leave that out, and empty cells behind the last
    value. But a writer who gave every row in full was interrupted in the last one, and cut inside
    a number it looks perfect otherwise.
    """
    *above, last = rows
    table = list(takewhile(lambda row: not is_header(row.cells), reversed(above)))
    if len(table) == len(above) or not any(map(is_patch_word, last.cells)):
        return
    header = above[-len(table) - 1]
    least = min((len(row.cells) for row in table), default=len(header.cells))
    if len(last.cells) < least:
        remarks.problem(
            f"the row has {len(last.cells)} cells, and every row above it at least {least}",
            "write the row whole, with a line end behind it",
            Trace(last.line, len(last.cells)),
        )


def find_separator(text: str) -> Found:
    """Return the separator that makes most known names appear in the first lines."""
    stated = STATED_SEPARATOR.match(text)
    lines = text.split("\n", _LOOKED_AT)[:_LOOKED_AT]
    found = [Found(separator, _names_seen(lines, separator)) for separator in SEPARATORS]
    if stated:
        found = [entry for entry in found if entry.separator == stated[1]]
    return max(found, key=lambda entry: entry.names)


def names_in(cells: Sequence[str]) -> int:
    """Return how many known names a row shows; a row of column names counts as `_CLEAR`."""
    if is_header(cells):
        return _CLEAR
    return 1 if len(cells) > 1 and plain_name(cells[0]) in FIELD_NAMES else 0


def _names_seen(lines: list[str], separator: str) -> int:
    """Count lines that begin with a field's name, down to a row of column names."""
    seen = set()
    for line in lines:
        first, parted, _ = line.partition(separator)
        if not parted:
            continue
        name = plain_name(first.strip('"'))
        if name in FIELD_NAMES:
            seen.add(name)
        elif is_header(cell.strip('" ') for cell in line.split(separator)):
            return len(seen) + _CLEAR
    return len(seen)


def _no_sheet(text: str) -> UnreadableSheetError:
    first = next((line for line in text.split("\n") if line.strip()), "")
    if not first:
        return UnreadableSheetError("the file is empty", do="write the readings and save it again")
    word = re.split(r"[,;\t:=]", first, maxsplit=1)[0].strip()
    return UnreadableSheetError(
        f"no name of a sheet's field or column is found; the first line is {quoted(first)}, "
        + did_you_mean(word, FIELD_NAMES),
        where="line 1",
        do="begin with lines such as job,1041 and a table with the columns patch, nominal, density",
    )
