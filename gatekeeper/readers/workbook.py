"""XLSX, XLS and ODS → `Sheet`: the typed sheet in cells, or a meter's table through a profile.

A workbook is one file of readings: its visible sheets are read one below the other, so that several
negatives may stand on a sheet each. Dates come out as ISO 8601, percent as the percent that is
seen. An error, a formula without a value, or a date where a number belongs is a problem, never an
empty cell. XLS, the oldest of the formats, tells neither errors nor percent: there a cell with an
error is empty, and a percentage that may be a fraction is refused.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers import workbook_ods, workbook_xlsx
from gatekeeper.readers.conventions import DECIMALS, Conventions
from gatekeeper.readers.delimited import names_in
from gatekeeper.readers.grid import Grid, Row
from gatekeeper.readers.names import CHOICES_SHEET
from gatekeeper.readers.profiled import profile_for_rows, read_rows
from gatekeeper.readers.remarks import Remarks
from gatekeeper.readers.typed_sheet import sheet_of
from gatekeeper.readers.values import ValueReader
from gatekeeper.readers.workbook_cells import CellSheet, cells_of
from gatekeeper.readers.workbook_look import Look, Mark, kind_of, open_parts
from gatekeeper.readers.workbook_xml import cell_name
from gatekeeper.sheet import Sheet, Trace
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations, RawFile

ZIP = b"PK\x03\x04"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_IN_XLSX = (b"xl/workbook", b"xl/worksheets", b"xl/_rels")
_IN_ODS = b"opendocument.spreadsheet"
_IN_XLS = "Workbook".encode("utf-16-le")
_STRIDE = (
    1 << 24
)  # rows of the second sheet are numbered from here on, of the third from twice that


class WorkbookReader:
    """Reads the workbooks of spreadsheet programs."""

    format = "a workbook (XLSX, XLS, ODS)"
    endings = frozenset({".xlsx", ".xls", ".ods", ".xlsm"})

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether the beginning is a workbook's."""
        del declarations
        if head.startswith(ZIP):
            return _IN_ODS in head or any(name in head for name in _IN_XLSX)
        return head.startswith(OLE) and _IN_XLS in head

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError`."""
        look = _look(file.content, declarations)
        remarks = Remarks()
        for note in look.notes:
            remarks.note(note)
        sheets = _visible(cells_of(file.content, declarations), remarks)
        rows, names = _rows(sheets, look, remarks)
        trace = _Tracer(names)
        profile = profile_for_rows(rows, declarations)
        if profile is not None:
            return read_rows(
                rows, profile, declarations, remarks, trace, hides_percent=look.hides_percent
            )
        if not any(names_in(row.cells) for row in rows):
            raise UnreadableSheetError(
                f"no field or column of a sheet is found on {listing(names)}",
                do="write the names of the typed sheet, or describe the table in a reading profile",
            )
        conventions = Conventions(may_be_fractions=look.hides_percent)
        values = ValueReader.for_site(declarations, conventions=conventions)
        return sheet_of(Grid(rows, trace), values, remarks, f"typed sheet ({look.kind})")


class _Tracer:
    """Names a cell by its sheet and reference, from the running row number."""

    def __init__(self, names: list[str]) -> None:
        self._names = [plain(name, 31) for name in names]

    def __call__(self, line: int, column: int) -> Trace:
        sheet, row = divmod(line, _STRIDE)
        name = cell_name(row, column) if column else f"{row}:{row}"
        return Trace(row, column, f"{self._names[sheet]}!{name}")


def _look(content: bytes, declarations: Declarations) -> Look:
    if content.startswith(OLE):
        return Look("XLS", hides_percent=True)
    if not content.startswith(ZIP):
        raise UnreadableSheetError(
            "the file is no workbook, whatever its name says",
            do="save it again with a spreadsheet program, or export the sheet as CSV",
        )
    parts = open_parts(content)
    if kind_of(parts) == "XLSX":
        return workbook_xlsx.look_into(parts, declarations)
    return workbook_ods.look_into(parts, declarations)


def _visible(sheets: list[CellSheet], remarks: Remarks) -> list[CellSheet]:
    for sheet in sheets:
        if not sheet.visible and sheet.name != CHOICES_SHEET:
            remarks.note(f"the hidden sheet {quoted(sheet.name, 31)} was left unread")
    return [sheet for sheet in sheets if sheet.visible]


def _rows(sheets: list[CellSheet], look: Look, remarks: Remarks) -> tuple[list[Row], list[str]]:
    """Return the rows of all sheets that have any, numbered so that the sheet can be told."""
    rows: list[Row] = []
    names: list[str] = []
    for sheet in sheets:
        own = _own_rows(sheet, look, remarks, len(names) * _STRIDE)
        if own:
            names.append(sheet.name)
            rows += own
    return rows, names


def _own_rows(sheet: CellSheet, look: Look, remarks: Remarks, offset: int) -> list[Row]:
    marks = look.marks.get(sheet.name, {})
    for (row, column), mark in marks.items():
        if mark is not Mark.PERCENT:
            place = Trace(row, column, f"{plain(sheet.name, 31)}!{cell_name(row, column)}")
            remarks.problem(
                f"the cell holds {mark}", "mend the formula, or type the value into the cell", place
            )
    return [
        Row(
            offset + number,
            [
                _text(cell, percent=marks.get((number, column)) is Mark.PERCENT)
                for column, cell in enumerate(cells, 1)
            ],
        )
        for number, cells in enumerate(sheet.rows, 1)
        if any(cells)
    ]


def _text(cell: str, *, percent: bool) -> str:
    """Return what the sheet shows: 0.508 in a cell of percent is 50.8 %."""
    if percent and cell.startswith("n"):
        return f"{round(float(cell[1:]) * 100, DECIMALS):.12g} %"
    return cell[1:]
