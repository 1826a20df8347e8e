"""The empty typed sheet of a workflow, to print or to type into: CSV text, or an XLSX workbook.

Pure: says what the file holds, writes none. What is written reads back through the readers beside
it. A cell of CSV that a spreadsheet program would take for a formula gets a blank in front, which
readers drop.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from gatekeeper.readers.names import CHOICES_SHEET
from gatekeeper.readers.values import PLAUSIBLE, READINGS
from gatekeeper.readers.workbook_xml import cell_name
from gatekeeper.sheet import COLUMNS, FIELDS, FieldKind, PatchKind, SheetKind, ZeroedOn

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from xlsxwriter.format import Format
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

_FORMULA_SIGNS = ("=", "+", "-", "@")
_LIST_CHARACTERS = 255  # a drop-down list written into its cell is no longer (XLSX)
_SPARE_ROWS = 20  # below the patches asked for, with the same checks
_MADE = datetime(2000, 1, 1, tzinfo=UTC)  # stated in the file, so that it is the same every time
_HINTS = {
    FieldKind.MOMENT: "year-month-day hour:minute, such as 2026-11-20 10:05",
    FieldKind.DAY: "year-month-day, such as 2026-11-20",
    FieldKind.RULING: "with unit: 65 lpi or 25 l/cm",
    FieldKind.RESOLUTION: "with unit: 1440 dpi or 567 d/cm",
    FieldKind.LENGTH: "with unit: 1.7 mm, 67 mil or 24 in",
}
_FIXED_CHOICES = {
    "sheet": tuple(kind.value for kind in SheetKind),
    "zeroed on": tuple(zero.value for zero in ZeroedOn),
    "cleaned": ("yes", "no"),
}


@dataclass(frozen=True, slots=True)
class BlankPatch:
    """One row to be read; `nominal` is percent for a tint and mm for a length."""

    kind: PatchKind
    nominal: float | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class Blank:
    """What the sheet asks for.

    Parameters
    ----------
    fields : names of the head, as in `FIELDS`, in the order to be written
    known : values that need not be typed, by field name
    choices : what may be typed, by field name, where the room has a list (printers, meters, lots)
    columns : columns of the table, as in `COLUMNS`
    """

    fields: Sequence[str]
    patches: Sequence[BlankPatch]
    known: Mapping[str, str] = field(default_factory=dict)
    choices: Mapping[str, Sequence[str]] = field(default_factory=dict)
    columns: Sequence[str] = COLUMNS

    def __post_init__(self) -> None:
        """Refuse names that no reader would know."""
        for name in (*self.fields, *self.known, *self.choices):
            if name not in FIELDS:
                raise ValueError(f"{name!r} is no field of a sheet")
        for name in self.columns:
            if name not in COLUMNS:
                raise ValueError(f"{name!r} is no column of a sheet")

    @property
    def names(self) -> list[str]:
        """All fields, those with a known value first where they are not asked for anyway."""
        return [*(name for name in self.known if name not in self.fields), *self.fields]


def blank_csv(blank: Blank) -> str:
    """Return the sheet as text: the head, an empty line, the table without readings."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for name in blank.names:
        writer.writerow([name, _harmless(blank.known.get(name, ""))])
    text.write("\n")
    writer.writerow(blank.columns)
    for patch in blank.patches:
        writer.writerow([_harmless(_cell(patch, column)) for column in blank.columns])
    return text.getvalue()


def blank_xlsx(blank: Blank) -> bytes:
    """Return the sheet as a workbook with drop-down lists and checks of the numbers.

    The same blank gives the same bytes. Checks warn and do not forbid: `> 4.5` must stay possible.

    Raises
    ------
    ModuleNotFoundError : the extra `spreadsheets` is not installed
    """
    import xlsxwriter  # noqa: PLC0415 -- only who writes a workbook needs it

    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as workbook:
        workbook.set_properties({"created": _MADE})
        _Writer(workbook, blank).write()
    return target.getvalue()


class _Writer:
    """Writes one workbook; rows and columns count from 0, as the library does."""

    def __init__(self, workbook: Workbook, blank: Blank) -> None:
        self._blank = blank
        self._sheet: Worksheet = workbook.add_worksheet("readings")
        self._choices: Worksheet = workbook.add_worksheet(CHOICES_SHEET)
        self._choices.hide()
        self._lists = 0
        self._bold: Format = workbook.add_format({"bold": True})
        # As text, so that no program makes a date of 03/04 or drops the zero of job 0041.
        self._text: Format = workbook.add_format({"num_format": "@"})
        self._number: Format = workbook.add_format({"num_format": "0.00"})

    def write(self) -> None:
        """Write head, table and checks."""
        self._sheet.set_column(0, 0, 18)
        self._sheet.set_column(1, len(self._blank.columns), 14)
        for row, name in enumerate(self._blank.names):
            self._write_field(row, name)
        top = len(self._blank.names) + 1
        self._sheet.write_row(top, 0, self._blank.columns, self._bold)
        for row, patch in enumerate(self._blank.patches, top + 1):
            self._write_patch(row, patch)
        last = top + len(self._blank.patches) + _SPARE_ROWS
        for column, name in enumerate(self._blank.columns):
            self._check_column(name, column, top + 1, last)

    def _write_field(self, row: int, name: str) -> None:
        self._sheet.write_string(row, 0, name, self._bold)
        self._sheet.write_string(row, 1, self._blank.known.get(name, ""), self._text)
        choices = self._blank.choices.get(name) or _FIXED_CHOICES.get(name)
        if choices:
            self._offer(choices, (row, 1, row, 1))
        elif hint := _HINTS.get(FIELDS[name].kind):
            self._sheet.data_validation(
                row, 1, row, 1, {"validate": "any", "input_title": name, "input_message": hint}
            )

    def _write_patch(self, row: int, patch: BlankPatch) -> None:
        for column, name in enumerate(self._blank.columns):
            cell = _cell(patch, name)
            if name == "nominal" and patch.nominal is not None:
                self._sheet.write_number(row, column, patch.nominal)
            elif cell:
                self._sheet.write_string(row, column, cell, self._text)
            elif name in READINGS:
                self._sheet.write_blank(row, column, None, self._number)

    def _check_column(self, name: str, column: int, first: int, last: int) -> None:
        if name == "patch":
            self._offer(tuple(PatchKind), (first, column, last, column))
            return
        limits = PLAUSIBLE.get(READINGS.get(name, ""))
        if limits is None:
            return
        low, high = limits
        rule = {
            "validate": "decimal",
            "criteria": "between",
            "minimum": low,
            "maximum": high,
            "error_type": "warning",
            "error_title": name,
            "error_message": f"{low:g} to {high:g} is possible; out of range is written > 4.5",
        }
        self._sheet.data_validation(first, column, last, column, rule)

    def _offer(self, choices: Sequence[str], cells: tuple[int, int, int, int]) -> None:
        """Attach a drop-down list, kept on the hidden sheet where it is too long for the cell."""
        source: list[str] | str = list(choices)
        if len(",".join(choices)) > _LIST_CHARACTERS or any("," in choice for choice in choices):
            for row, choice in enumerate(choices):
                self._choices.write_string(row, self._lists, choice)
            column = cell_name(0, self._lists + 1).rstrip("0")
            source = f"={CHOICES_SHEET}!${column}$1:${column}${len(choices)}"
            self._lists += 1
        self._sheet.data_validation(
            *cells, {"validate": "list", "source": source, "error_type": "warning"}
        )


def _cell(patch: BlankPatch, column: str) -> str:
    if column == "patch":
        return patch.kind.value
    if column == "nominal":
        return "" if patch.nominal is None else f"{patch.nominal:g}"
    return patch.where if column == "where" else ""


def _harmless(cell: str) -> str:
    return f" {cell}" if cell.startswith(_FORMULA_SIGNS) else cell
