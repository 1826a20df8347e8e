"""Tables of ISO 28178 / CGATS.17 → `Sheet`.

How our fields travel in the format
    Head     each field of the sheet is a header keyword, blanks as underscores: JOB "1041",
             FILM_LOT "M5-0317", SEPARATION "black". FILTER is the standard's own. Names that are
             not the standard's are declared by KEYWORD "JOB" in careful files; undeclared ones are
             taken too. CREATED is when the file was written, so it is not taken for `measured`.
    Patch    field PATCH (and NOMINAL), or the first words of SAMPLE_NAME or SAMPLE_ID ("tint 50",
             "solid left"), or the device values: no ink is clear, 100 of one ink is solid, less is
             a tint of that nominal percentage.
    Density  DENSITY, or the standard's D_VIS, D_RED, D_GREEN, D_BLUE: the one that FILTER names,
             else D_VIS, else the only one.
    Others   DOT, TRANSMITTANCE, LENGTH, WHERE, NAME, SEPARATION as private fields. XYZ_Y is a
             transmittance only where a reading profile says so.
    Tables   each table with a density, dot, transmittance or length is a negative, or several when
             SEPARATION is a field; other tables are left unread with a note.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.assembling import assembled, negatives_of
from gatekeeper.readers.cgats import CgatsFile, DataTable, parse
from gatekeeper.readers.cgats_counts import remark_counts
from gatekeeper.readers.cgats_names import STANDARD_KEYWORDS
from gatekeeper.readers.cgats_patches import RowReader, density_field
from gatekeeper.readers.encoding import decode, decode_head
from gatekeeper.readers.names import FIELD_NAMES, likely_meant, plain_name, remark_unknown
from gatekeeper.readers.particulars import Particulars
from gatekeeper.readers.patches import PatchMaker
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.remarks import Remarks
from gatekeeper.readers.values import READINGS, ValueReader
from gatekeeper.sheet import Negative, Sheet, Trace
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations, RawFile
    from gatekeeper.sheet import Patch

_IDENTIFICATION = re.compile(r"\s*(?:CGATS|ISO ?28178|IT8)[^\n]{0,20}(?:\n|$)")
_DATA = re.compile(r"^\s*BEGIN_DATA(?:_FORMAT)?\b", re.MULTILINE)


class CgatsReader:
    """Reads ISO 28178 / CGATS.17 text."""

    format = "CGATS.17 text"
    endings = frozenset({".it8", ".cgats", ".ti3"})

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether the text begins as the standard says, or soon has a data format."""
        text = decode_head(head, declarations.code_page)
        if _IDENTIFICATION.match(text):
            return True
        return "BEGIN_DATA" in text and _DATA.search(text) is not None

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError`."""
        text, _ = decode(file.content, declarations.code_page)
        parsed = parse(text, max_rows=declarations.max_rows, max_columns=declarations.max_columns)
        return _FileReader(parsed, declarations).sheet()


class _FileReader:
    """Reads the tables one after the other; header lines stay in force for the tables below."""

    def __init__(self, parsed: CgatsFile, declarations: Declarations) -> None:
        self._parsed = parsed
        self._remarks = Remarks()
        self._values = ValueReader.for_site(declarations)
        self._unused: list[str] = []

    def sheet(self) -> Sheet:
        """Return the whole file as a sheet."""
        negatives: list[Negative] = []
        particulars = None
        for table in self._parsed.tables:
            particulars = Particulars(self._values, self._remarks, particulars)
            self._give_header(table, particulars)
            remark_counts(table, self._remarks)
            negatives += self._negatives(table, particulars)
        if not negatives:
            raise UnreadableSheetError(
                "the file is CGATS.17 text, but no table in it holds readings of film: "
                + (" and ".join(self._unused) or "no table has rows"),
                do="export densities (D_VIS, or D_RED, D_GREEN, D_BLUE with FILTER), or map the "
                "file's fields in a reading profile",
            )
        for unused in self._unused:
            self._remarks.note(f"a table without readings of film was left unread ({unused})")
        kind = particulars.kind if particulars else None
        name = self._parsed.identification or "no identification"
        return assembled(kind, negatives, self._remarks, f"CGATS.17 text ({plain(name, 20)})")

    def _give_header(self, table: DataTable, particulars: Particulars) -> None:
        self._remarks.separation = next(
            (entry.value for entry in table.header if plain_name(entry.keyword) == "separation"), ""
        )
        for entry in table.header:
            name = plain_name(entry.keyword)
            if name in FIELD_NAMES:
                particulars.give(name, entry.value, Trace(entry.line, 2))
            elif entry.keyword not in STANDARD_KEYWORDS and likely_meant(name, FIELD_NAMES):
                remark_unknown(
                    self._remarks, "keyword", entry.keyword, FIELD_NAMES, Trace(entry.line, 1)
                )

    def _negatives(self, table: DataTable, particulars: Particulars) -> list[Negative]:
        filter_word, place = particulars.written.get("filter", ("", Trace(table.line)))
        try:
            field, told = density_field(table.fields, filter_word)
        except RefusedValueError as error:
            raise UnreadableSheetError(error.says, where=str(place), do=error.do) from error
        carried = {column.upper() for column in READINGS} & {name.upper() for name in table.fields}
        if field is None and not carried:
            self._unused.append(f"line {table.line}: fields {listing(table.fields, 6)}")
            return []
        if told and not filter_word:
            particulars.give("filter", told, Trace(table.line))
        return self._by_separation(table, particulars, RowReader(table.fields, field))

    def _by_separation(
        self, table: DataTable, particulars: Particulars, rows: RowReader
    ) -> list[Negative]:
        patches = self._patches(table, rows)
        if not any(patches.values()) and table.rows:
            says = "no row says whether it is clear, solid, a tint or a length"
            self._unused.append(f"line {table.line}: {says}")
            self._remarks.problem(
                f"in a table of readings {says}",
                "name the samples so, or give the device value of one ink",
                Trace(table.line),
            )
            return []
        return negatives_of(particulars, patches, self._remarks)

    def _patches(self, table: DataTable, rows: RowReader) -> dict[str, list[Patch]]:
        maker = PatchMaker(self._values, self._remarks)
        found: dict[str, list[Patch]] = {}
        inks: dict[str, int] = {}
        unknown: list[tuple[str, Trace]] = []
        for row in table.rows:
            trace = Trace(row[0].line)
            try:
                identity = rows.identity(row)
            except RefusedValueError as error:
                self._remarks.problem(error.says, error.do, trace)
                continue
            if identity is None:
                unknown.append((row[0].text, trace))
                continue
            separation = rows.separation(row)
            inks.setdefault(rows.ink(row), row[0].line)
            patch = maker.make(identity.kind, rows.cells(row, identity), trace, separation)
            found.setdefault(separation, []).extend([patch] if patch else [])
        if any(found.values()):
            self._remark_unknown_rows(unknown)
            if set(found) == {""}:
                self._refuse_several_inks(inks)
        return found

    def _remark_unknown_rows(self, unknown: list[tuple[str, Trace]]) -> None:
        for name, trace in unknown:
            self._remarks.problem(
                f"the row {quoted(name, 30)} does not say which patch it is",
                "name it clear, solid, tint or length, or give the device value of one ink",
                trace,
            )

    def _refuse_several_inks(self, inks: dict[str, int]) -> None:
        inks.pop("", None)
        if len(inks) > 1:
            self._remarks.problem(
                f"the rows are patches of several inks ({listing(inks)}), "
                "and no field names the separation",
                "export each separation by itself, or add the field SEPARATION",
                Trace(max(inks.values())),
            )
