"""ISO 28178 / CGATS.17 text → tables of text. What the names mean is not known here.

Order    an identification line, header lines (keyword, value), BEGIN_DATA_FORMAT and the field
         names, BEGIN_DATA and the rows; further tables may follow, each below header lines of its
         own that add to those above.
Cells    a row that splits at single tabs into just as many cells as there are fields is taken so
         (empty cells are possible then); any other splits at blanks and tabs, quotes respected.
         Row ends mean nothing to the standard: values are counted.
Comments from # to the end of the line, outside quotes.
Sources  ISO 28178:2022, scope and headings; the clauses themselves from memory, with what public
         files of the format do.
Errors   `UnreadableSheetError`; counts that disagree are kept as `Miscount`, for rows are there.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import NamedTuple

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.wording import counted

_PIECE = re.compile(r'"(?:[^"]|"")*"|#.*|[^\s"#][^\s"]*|"')
_COMMENT_LINE = re.compile(r"\s*#")
_STRUCTURE = frozenset({"BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA"})


MOST_KEYWORDS = 2_000
"""Header lines above one table; real files have a few dozen."""


class Entry(NamedTuple):
    """A header line: keyword, value without quotes, line counted from 1."""

    keyword: str
    value: str
    line: int


class Cell(NamedTuple):
    """A value of a row: text without quotes; line and field number counted from 1."""

    text: str
    line: int
    column: int


class Miscount(NamedTuple):
    """A number that the file states and that is not what was found."""

    what: str
    stated: str
    found: int
    line: int


@dataclass(slots=True)
class DataTable:
    """One table: the header lines between it and the table before, its field names, its rows."""

    header: list[Entry] = field(default_factory=list)
    fields: list[str] = field(default_factory=list)
    rows: list[list[Cell]] = field(default_factory=list)
    miscounts: list[Miscount] = field(default_factory=list)
    line: int = 0  # of BEGIN_DATA
    ended: bool = False  # END_DATA was there


@dataclass(slots=True)
class CgatsFile:
    """A whole file."""

    identification: str = ""
    tables: list[DataTable] = field(default_factory=list)
    trailing: list[Entry] = field(default_factory=list)  # header lines below the last table


def parse(text: str, *, max_rows: int = 20_000, max_columns: int = 400) -> CgatsFile:
    """Return the tables of a file, line ends as `decode` gives them.

    Raises
    ------
    UnreadableSheetError : no table, data without field names, rows that do not fill, limits passed
    """
    parser = _Parser(max_rows, max_columns)
    for number, line in enumerate(text.split("\n"), 1):
        parser.take(line, number)
    return parser.finish()


class _Parser:
    """Takes line after line; `_state` is what the next line may be."""

    def __init__(self, max_rows: int, max_columns: int) -> None:
        self._file = CgatsFile()
        self._table = DataTable()
        self._state = self._first_line
        self._pending: list[Cell] = []  # values of a row that goes on in the next line
        self._max_rows = max_rows
        self._max_columns = max_columns

    def take(self, line: str, number: int) -> None:
        """Take one line; blank lines and comments are nobody's."""
        if line.strip() and not _COMMENT_LINE.match(line):
            self._state(line, number)

    def finish(self) -> CgatsFile:
        """Return the file; what is begun and not ended is kept as it is, or refused."""
        table = self._table
        if self._state == self._data:
            self._end_table(table.line)
        elif self._state == self._format:
            raise UnreadableSheetError(
                "BEGIN_DATA_FORMAT has no END_DATA_FORMAT: the file is cut off", do="copy it again"
            )
        else:
            self._file.trailing = table.header
        if not self._file.tables:
            raise UnreadableSheetError(
                "the file has no table: BEGIN_DATA is missing",
                do="export the readings again as CGATS.17 text, with data",
            )
        return self._file

    def _first_line(self, line: str, number: int) -> None:
        """Take the identification; a file may also begin with its header at once."""
        self._state = self._header
        pieces = pieces_of(line)
        word = pieces[0] if pieces else ""
        if len(pieces) == 1 and word not in _STRUCTURE:
            self._file.identification = unquoted(word)
        else:
            self._header(line, number)

    def _header(self, line: str, number: int) -> None:
        keyword, *values = pieces_of(line)
        if keyword == "BEGIN_DATA_FORMAT":
            self._table.fields = []
            self._state = self._format
            if values:
                self._format(" ".join(values), number)
        elif keyword == "BEGIN_DATA":
            self._begin_data(number)
        elif keyword not in _STRUCTURE:
            self._table.header.append(Entry(keyword, _value_of(values), number))
            if len(self._table.header) > MOST_KEYWORDS:
                raise _beyond(f"more than {MOST_KEYWORDS} header lines above a table", number)

    def _format(self, line: str, number: int) -> None:
        for piece in pieces_of(line):
            if piece == "END_DATA_FORMAT":
                self._state = self._header
                return
            if piece in _STRUCTURE:
                raise UnreadableSheetError(
                    f"{piece} stands where END_DATA_FORMAT should",
                    where=f"line {number}",
                    do="export the file again, or add END_DATA_FORMAT below the field names",
                )
            self._table.fields.append(unquoted(piece))
            if len(self._table.fields) > self._max_columns:
                raise _beyond(f"more than {self._max_columns} fields", number)

    def _begin_data(self, number: int) -> None:
        if not self._table.fields:
            raise UnreadableSheetError(
                "data without field names: BEGIN_DATA_FORMAT is missing above BEGIN_DATA",
                where=f"line {number}",
                do="export the file again with its data format, which tells the values apart",
            )
        self._table.line = number
        self._state = self._data

    def _data(self, line: str, number: int) -> None:
        if line.split(None, 1)[0] == "END_DATA":
            self._table.ended = True
            self._end_table(number)
            return
        wanted = len(self._table.fields)
        texts = _cells_of(line, wanted, whole=not self._pending)
        at = len(self._pending)
        self._pending += [Cell(text, number, at + index) for index, text in enumerate(texts, 1)]
        if len(self._pending) > wanted:
            raise self._overfull(number, wanted)
        if len(self._pending) == wanted:
            self._table.rows.append(self._pending)
            self._pending = []
            if len(self._table.rows) > self._max_rows:
                raise _beyond(f"more than {self._max_rows} rows", number)

    def _overfull(self, number: int, wanted: int) -> UnreadableSheetError:
        found = len(self._pending)
        first = self._pending[0].line
        lines = f"line {number}" if first == number else f"lines {first} to {number}"
        return UnreadableSheetError(
            f"a row has {counted(found, 'value')} for {counted(wanted, 'field')}",
            where=lines,
            do="put texts with blanks in double quotes, or separate all values by single tabs",
        )

    def _end_table(self, number: int) -> None:
        table = self._table
        if self._pending:
            raise UnreadableSheetError(
                f"the last row has {counted(len(self._pending), 'value')} "
                f"for {counted(len(table.fields), 'field')}",
                where=f"line {self._pending[0].line}",
                do="copy the file again; if a value is missing at the meter, export it again",
            )
        table.miscounts = _miscounts(table)
        self._file.tables.append(table)
        # Field names stay in force: a further table may come without a format of its own.
        self._table = DataTable(fields=table.fields)
        self._state = self._header
        if number and len(self._file.tables) > self._max_columns:
            raise _beyond(f"more than {self._max_columns} tables", number)


def pieces_of(line: str) -> list[str]:
    """Return the words and quoted strings of a line, quotes included, up to a comment."""
    pieces = []
    for found in _PIECE.finditer(line):
        piece = found[0]
        if piece.startswith("#"):
            break
        pieces.append(piece)
    return pieces


def unquoted(piece: str) -> str:
    """Return a piece without its quotes; two quotes inside stand for one."""
    if len(piece) > 1 and piece[0] == piece[-1] == '"':
        return piece[1:-1].replace('""', '"')
    return piece


def _cells_of(line: str, wanted: int, *, whole: bool) -> list[str]:
    if whole:
        at_tabs = line.rstrip("\n").split("\t")
        while len(at_tabs) > wanted and not at_tabs[-1].strip():
            at_tabs.pop()  # tabs that pad the end of a row
        if len(at_tabs) == wanted and "#" not in line:
            return [unquoted(text.strip()) for text in at_tabs]
    return [unquoted(piece) for piece in pieces_of(line)]


def _value_of(values: list[str]) -> str:
    return " ".join(unquoted(value) for value in values)


def _miscounts(table: DataTable) -> list[Miscount]:
    counts = {
        "NUMBER_OF_FIELDS": ("fields", len(table.fields)),
        "NUMBER_OF_SETS": ("rows", len(table.rows)),
    }
    return [
        Miscount(counts[entry.keyword][0], entry.value, counts[entry.keyword][1], entry.line)
        for entry in table.header
        if entry.keyword in counts and entry.value.strip() != str(counts[entry.keyword][1])
    ]


def _beyond(what: str, line: int) -> UnreadableSheetError:
    return UnreadableSheetError(
        f"the file has {what}",
        where=f"line {line}",
        do="look whether it is a file of readings; the limits stand in site.yaml",
    )
