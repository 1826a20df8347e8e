"""The bounded look into an ODS workbook (ISO/IEC 26300, OpenDocument)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.workbook_look import MAX_SHEETS, Look, Mark, refuse_far, remarkable_parts
from gatekeeper.readers.workbook_xml import scan

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations

_MOST_CELLS = 2_000_000  # that repeats may stand for
_CELLS = frozenset({"table-cell", "covered-table-cell"})


def look_into(parts: dict[str, bytes], limits: Declarations) -> Look:
    """Return the marks of every sheet, or raise `UnreadableSheetError`."""
    if b"encryption-data" in parts.get("META-INF/manifest.xml", b""):
        raise UnreadableSheetError(
            "the workbook is locked with a password", do="save it without a password"
        )
    look = Look("ODS", notes=remarkable_parts(parts))
    for name, data in parts.items():
        if name.endswith((".xml", ".rdf")) and name != "content.xml":
            scan(data, _ignore)
    scanner = _ContentScanner(look, limits)
    scan(parts["content.xml"], scanner.start, scanner.end)
    return look


def _ignore(_name: str, _attributes: dict[str, str]) -> None:
    """Nothing to see; the scan itself refuses what is not innocent."""


class _ContentScanner:
    """Follows tables, rows and cells; a repeat with content stands for that many cells."""

    def __init__(self, look: Look, limits: Declarations) -> None:
        self._look = look
        self._limits = limits
        self._sheet = ""
        self._row = self._row_repeat = self._column = self._repeat = self._cells = 0
        self._cell: dict[str, str] = {}
        self._has_text = False
        self._row_has_content = False

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "table":
            self._begin_sheet(attributes)
        elif name == "table-row":
            self._row += 1
            self._row_repeat = _repeat(attributes, "number-rows-repeated")
            self._column = 0
            self._row_has_content = False
        elif name in _CELLS:
            self._column += 1
            self._repeat = _repeat(attributes, "number-columns-repeated")
            self._cell, self._has_text = attributes, False
        elif name == "p":
            self._has_text = True

    def end(self, name: str) -> None:
        if name == "table-row":
            self._row += self._row_repeat - 1
            if self._row_has_content:
                refuse_far(self._row, 1, self._sheet, self._limits)
        elif name in _CELLS:
            last = self._column + self._repeat - 1
            if self._has_text or "value-type" in self._cell or "formula" in self._cell:
                self._take_content(last)
            self._column = last

    def _begin_sheet(self, attributes: dict[str, str]) -> None:
        self._sheet = attributes.get("name", "")
        self._look.marks[self._sheet] = {}
        self._row = 0
        if len(self._look.marks) > MAX_SHEETS:
            raise UnreadableSheetError(
                f"the workbook has more than {MAX_SHEETS} sheets", do="keep only the readings in it"
            )

    def _take_content(self, last: int) -> None:
        self._row_has_content = True
        refuse_far(self._row, last, self._sheet, self._limits)
        self._cells += self._repeat * self._row_repeat
        if self._cells > _MOST_CELLS:
            raise UnreadableSheetError(
                f"the workbook repeats cells more than {_MOST_CELLS} times", do="export it as CSV"
            )
        if mark := self._mark():
            last_row = min(self._row + self._row_repeat - 1, self._limits.max_rows)
            for row in range(self._row, last_row + 1):
                for column in range(self._column, last + 1):
                    self._look.marks[self._sheet][row, column] = mark

    def _mark(self) -> Mark | None:
        # The standard has no type for an error; programs state it in a namespace of their own.
        kinds = {value for key, value in self._cell.items() if key.endswith("value-type")}
        if "error" in kinds:
            return Mark.ERROR
        if "formula" in self._cell and not kinds:
            return Mark.NO_VALUE
        return Mark.PERCENT if "percentage" in kinds else None


def _repeat(attributes: dict[str, str], name: str) -> int:
    stated = attributes.get(name, "1")
    return int(stated[:9]) if stated.isdecimal() else 1
