"""The bounded look into an XLSX workbook (ISO/IEC 29500)."""

from __future__ import annotations

import posixpath
import re
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.workbook_look import MAX_SHEETS, Look, Mark, refuse_far, remarkable_parts
from gatekeeper.readers.workbook_xml import position, scan

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations

_MOST_STRINGS = 500_000
_BUILT_IN_PERCENT = frozenset({"9", "10"})  # number formats 0% and 0.00%, ISO/IEC 29500-1, 18.8.30
_LITERAL = re.compile(
    r'"[^"]*"|\\.|\[[^\]]*\]'
)  # parts of a number format that are shown as they are


def look_into(parts: dict[str, bytes], limits: Declarations) -> Look:
    """Return the marks of every sheet, or raise `UnreadableSheetError`."""
    look = Look("XLSX", notes=remarkable_parts(parts))
    for name, data in parts.items():
        if name.endswith((".xml", ".rels")) and not name.startswith("xl/worksheets/"):
            scan(data, _refuse_strings)
    percent = _percent_styles(parts.get("xl/styles.xml"))
    sheets = _sheets(parts)
    if len(sheets) > MAX_SHEETS:
        raise UnreadableSheetError(
            f"the workbook has more than {MAX_SHEETS} sheets", do="keep only the readings in it"
        )
    for name, part in sheets.items():
        if part in parts:
            scanner = _SheetScanner(name, percent, limits)
            scan(parts[part], scanner.start, scanner.end)
            look.marks[name] = scanner.marks
    return look


def _refuse_strings(name: str, attributes: dict[str, str]) -> None:
    """Refuse a stated number of strings for which a reader would reserve all memory."""
    if name != "sst":
        return
    for key in ("count", "uniqueCount"):
        stated = attributes.get(key, "0")
        if (
            not stated.isdecimal()
            or len(stated) > len(str(_MOST_STRINGS))
            or int(stated) > _MOST_STRINGS
        ):
            raise UnreadableSheetError(
                f"the workbook states {stated[:20]!r} strings, more than it can have",
                do="save it again with a spreadsheet program, or export it as CSV",
            )


def _sheets(parts: dict[str, bytes]) -> dict[str, str]:
    """Return the part that holds each sheet, by the sheet's name."""
    targets: dict[str, str] = {}

    def relation(name: str, attributes: dict[str, str]) -> None:
        if name == "Relationship" and attributes.get("TargetMode") != "External":
            target = attributes.get("Target", "")
            path = target[1:] if target.startswith("/") else posixpath.join("xl", target)
            targets[attributes.get("Id", "")] = posixpath.normpath(path)

    found: dict[str, str] = {}

    def sheet(name: str, attributes: dict[str, str]) -> None:
        if name == "sheet":
            found[attributes.get("name", "")] = targets.get(attributes.get("id", ""), "")

    scan(parts.get("xl/_rels/workbook.xml.rels", b"<none/>"), relation)
    scan(parts["xl/workbook.xml"], sheet)
    return found


def _percent_styles(styles: bytes | None) -> frozenset[str]:
    """Return the numbers of the cell styles that show a number as percent."""
    scanner = _StyleScanner()
    if styles:
        scan(styles, scanner.start, scanner.end)
    return frozenset(scanner.percent)


class _StyleScanner:
    """Follows number formats and cell styles; a cell names its style by its place in the list."""

    def __init__(self) -> None:
        self.percent: set[str] = set()
        self._formats: dict[str, str] = {}
        self._inside = False
        self._number = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "numFmt":
            self._formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")
        elif name == "cellXfs":
            self._inside = True
        elif name == "xf" and self._inside:
            if self._shows_percent(attributes.get("numFmtId", "0")):
                self.percent.add(str(self._number))
            self._number += 1

    def end(self, name: str) -> None:
        if name == "cellXfs":
            self._inside = False

    def _shows_percent(self, number_format: str) -> bool:
        own = self._formats.get(number_format)
        return number_format in _BUILT_IN_PERCENT if own is None else "%" in _LITERAL.sub("", own)


class _SheetScanner:
    """Follows the cells of one sheet. A cell without a name stands right of the one before."""

    def __init__(self, name: str, percent: frozenset[str], limits: Declarations) -> None:
        self.marks: dict[tuple[int, int], Mark] = {}
        self._name = name
        self._percent = percent
        self._limits = limits
        self._row = self._column = 0
        self._style = self._type = ""
        self._has_value = self._has_formula = False

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "row":
            stated = attributes.get("r", "")
            self._row = int(stated[:9]) if stated.isdecimal() else self._row + 1
            self._column = 0
        elif name == "c":
            self._begin_cell(attributes)
        elif name in {"v", "is"}:
            self._has_value = True
        elif name == "f":
            self._has_formula = True

    def end(self, name: str) -> None:
        if name != "c" or not (self._has_value or self._has_formula):
            return
        refuse_far(self._row, self._column, self._name, self._limits)
        place = (self._row, self._column)
        if self._type == "e":
            self.marks[place] = Mark.ERROR
        elif self._has_formula and not self._has_value:
            self.marks[place] = Mark.NO_VALUE
        elif self._style in self._percent and self._type in {"", "n"}:
            self.marks[place] = Mark.PERCENT

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        named = position(attributes.get("r", ""))
        if named:
            self._row, self._column = named
        else:
            self._column += 1
        self._style, self._type = attributes.get("s", "0"), attributes.get("t", "")
        self._has_value = self._has_formula = False
