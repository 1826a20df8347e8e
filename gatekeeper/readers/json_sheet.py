"""JSON → `Sheet`: an object of head fields with a list `patches`, or a list of such objects.

The names are those of the typed sheet, blanks or underscores alike. Each object is a negative, or
several where its patches name their separation.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.assembling import assembled, negatives_of
from gatekeeper.readers.encoding import decode, decode_head
from gatekeeper.readers.json_text import JsonList, JsonObject, JsonText, JsonValue, parse
from gatekeeper.readers.names import (
    FIELD_NAMES,
    PATCH_WORDS,
    TABLE_COLUMNS,
    plain_name,
    remark_unknown,
    remark_unknown_patch,
)
from gatekeeper.readers.particulars import Particulars
from gatekeeper.readers.patches import Cell, PatchMaker
from gatekeeper.readers.remarks import Remarks
from gatekeeper.readers.splitting import beyond
from gatekeeper.readers.values import ValueReader
from gatekeeper.wording import listing

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from gatekeeper.readers.interface import Declarations, RawFile
    from gatekeeper.sheet import Negative, Patch, PatchKind, Sheet

PATCHES = "patches"
_CLEARLY = re.compile(r'\s*[\[{].*"patch(?:es)?"\s*:', re.DOTALL)


class JsonReader:
    """Reads the typed sheet written as JSON."""

    format = "JSON"
    endings = frozenset({".json"})

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether the text is an object or list that has patches."""
        if head.lstrip(b"\xef\xbb\xbf\xfe\xff\x00 \t\r\n")[:1] not in {b"{", b"["}:
            return False
        return _CLEARLY.match(decode_head(head, declarations.code_page)) is not None

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError`."""
        text, _ = decode(file.content, declarations.code_page)
        value = parse(text)
        sheets = value.items if isinstance(value, JsonList) else [value]
        return _DocumentReader(declarations).sheet(sheets)


class _DocumentReader:
    """Reads the objects of one file, each a negative or several."""

    def __init__(self, limits: Declarations) -> None:
        self._limits = limits
        self._remarks = Remarks()
        self._values = ValueReader.for_site(limits)
        self._maker = PatchMaker(self._values, self._remarks)
        self._rows = 0

    def sheet(self, sheets: Iterable[JsonValue]) -> Sheet:
        """Return everything that the objects say."""
        negatives: list[Negative] = []
        kind = None
        for value in sheets:
            if not isinstance(value, JsonObject):
                raise UnreadableSheetError(
                    "a sheet in JSON is an object in braces, or a list of them",
                    where=str(value.trace),
                    do='write {"job": …, "patches": […]}',
                )
            particulars = self._particulars(value)
            kind = kind or particulars.kind
            negatives += negatives_of(particulars, self._patches(value), self._remarks)
        return assembled(kind, negatives, self._remarks, "JSON")

    def _particulars(self, sheet: JsonObject) -> Particulars:
        texts = self._texts(sheet, FIELD_NAMES, "field", leave=PATCHES)
        self._remarks.separation = texts["separation"].text if "separation" in texts else ""
        particulars = Particulars(self._values, self._remarks)
        for name, cell in texts.items():
            particulars.give(name, cell.text, cell.trace)
        return particulars

    def _patches(self, sheet: JsonObject) -> dict[str, list[Patch]]:
        found: dict[str, list[Patch]] = {}
        rows = next(
            (rows for key, rows in sheet.entries.items() if plain_name(key) == PATCHES), None
        )
        if rows is None:
            return found
        if not isinstance(rows, JsonList):
            self._remarks.problem("patches is not a list", "write [{…}, {…}]", rows.trace)
            return found
        for row in rows.items:
            self._rows += 1
            if self._rows > self._limits.max_rows:
                raise beyond(f"more than {self._limits.max_rows} patches", row.trace.line or 0)
            if isinstance(row, JsonObject):
                self._take(row, found)
            else:
                self._remarks.problem("a patch is an object in braces", "write {…}", row.trace)
        return found

    def _take(self, row: JsonObject, found: dict[str, list[Patch]]) -> None:
        texts = self._texts(row, TABLE_COLUMNS, "name")
        word = texts.pop("patch", Cell("patch", "", row.trace))
        separation = texts.pop("separation", Cell("separation", "", row.trace)).text
        kind = PATCH_WORDS.get(word.text.casefold())
        if kind is None:
            remark_unknown_patch(self._remarks, word.text, word.trace, separation)
            return
        patch = self._maker.make(kind, texts.values(), row.trace, separation)
        if patch is None:
            self._look_for_lost_reading(kind, row, separation)
        found.setdefault(separation, []).extend([patch] if patch else [])

    def _look_for_lost_reading(self, kind: PatchKind, row: JsonObject, separation: str) -> None:
        """Say so where a patch without a reading has a name that nobody knows: it may be that."""
        unknown = [key for key in row.entries if plain_name(key) not in {*TABLE_COLUMNS, "name"}]
        if unknown:
            self._remarks.problem(
                f"a {kind} has no reading, but {listing(unknown)}",
                "name the reading density, dot, transmittance or length",
                row.trace,
                separation,
            )

    def _texts(
        self, value: JsonObject, known: Collection[str], what: str, leave: str = ""
    ) -> dict[str, Cell]:
        """Return the texts that are not empty under their plain names."""
        if len(value.entries) > self._limits.max_columns:
            limit = self._limits.max_columns
            raise beyond(f"more than {limit} names in one object", value.trace.line or 0)
        texts: dict[str, Cell] = {}
        for key, entry in value.entries.items():
            name = plain_name(key)
            if name == leave:
                continue
            if name not in known:
                remark_unknown(self._remarks, what, key, known, entry.trace)
            elif not isinstance(entry, JsonText):
                self._remarks.problem(f"{name} holds more than one value", "write one", entry.trace)
            elif name in texts:
                self._remarks.problem(f"{name} is given twice", "keep one of the two", entry.trace)
            elif entry.text and entry.text.strip():
                self._keep(name, entry.text.strip(), entry, texts)
        return texts

    def _keep(self, name: str, text: str, entry: JsonText, texts: dict[str, Cell]) -> None:
        if len(text) > self._limits.max_cell:
            limit = self._limits.max_cell
            raise beyond(f"a text of more than {limit} characters", entry.trace.line or 0)
        texts[name] = Cell(name, text, entry.trace)
