"""A bounded look into a workbook before any library opens it: what is too much stops here.

Looked at  members and their expanded sizes, DTDs and entities, cells far out, counts that make a
           reader reserve memory; and what the library does not tell: cells with an error, formulas
           without a stored value, numbers shown as percent.
Followed   nothing: no formula, link, entity or macro.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations

MAX_MEMBERS = 500
MAX_PART_BYTES = 20_000_000
MAX_EXPANDED_BYTES = 60_000_000
MAX_SHEETS = 50

_ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"


class Mark(StrEnum):
    """What is peculiar about a cell."""

    ERROR = "an error instead of a value"
    NO_VALUE = "a formula whose value was never worked out"
    PERCENT = "a number shown as percent"


@dataclass(slots=True)
class Look:
    """What was found: marks by sheet name, then by (row, column) counted from 1; things to say."""

    kind: str
    marks: dict[str, dict[tuple[int, int], Mark]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    hides_percent: bool = (
        False  # nothing tells a number that is shown as percent from one that is not
    )


def open_parts(content: bytes) -> dict[str, bytes]:
    """Return the parts of a zipped workbook, each expanded within the limits.

    Raises
    ------
    UnreadableSheetError : no whole zip file, locked, or larger than a workbook of readings can be
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = archive.infolist()
            _refuse_too_much(members)
            return _expanded(archive, members)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise UnreadableSheetError(
            "the workbook is damaged or was cut off while it was copied", do="copy or save it again"
        ) from error


def kind_of(parts: dict[str, bytes]) -> str:
    """Return XLSX or ODS.

    Raises
    ------
    UnreadableSheetError : a zip file of something else
    """
    if "xl/workbook.xml" in parts:
        return "XLSX"
    if parts.get("mimetype", b"").startswith(_ODS_TYPE) and "content.xml" in parts:
        return "ODS"
    what = "a binary workbook (XLSB)" if "xl/workbook.bin" in parts else "no workbook"
    raise UnreadableSheetError(f"the file is {what}", do="save it as XLSX, ODS or CSV")


def remarkable_parts(parts: dict[str, bytes]) -> list[str]:
    """Return notes about parts that are there and were left alone."""
    notes = []
    if any(
        "vbaproject" in name.casefold() or name.startswith(("Basic/", "Scripts/")) for name in parts
    ):
        notes.append("the workbook has macros; none was run")
    if any("externallink" in name.casefold() for name in parts):
        notes.append("the workbook links to other files; none was followed")
    return notes


def _refuse_too_much(members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MAX_MEMBERS:
        raise _beyond(f"more than {MAX_MEMBERS} parts")
    if any(member.flag_bits & 0x1 for member in members):
        raise UnreadableSheetError(
            "the workbook is locked with a password", do="save it without a password"
        )
    if sum(member.file_size for member in members) > MAX_EXPANDED_BYTES:
        raise _beyond(f"more than {MAX_EXPANDED_BYTES} bytes when expanded")


def _expanded(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    """Read every part, trusting no stated size."""
    parts: dict[str, bytes] = {}
    total = 0
    for member in members:
        if member.is_dir():
            continue
        with archive.open(member) as part:
            data = part.read(MAX_PART_BYTES + 1)
        total += len(data)
        if len(data) > MAX_PART_BYTES or total > MAX_EXPANDED_BYTES:
            raise _beyond(f"more than {MAX_PART_BYTES} bytes in one part, expanded")
        if member.filename in parts:
            raise UnreadableSheetError(
                "the workbook has two parts of one name, and programs differ in which they read",
                do="save it again with a spreadsheet program",
            )
        parts[member.filename] = data
    return parts


def _beyond(what: str) -> UnreadableSheetError:
    return UnreadableSheetError(
        f"the workbook has {what}", do="keep only the sheet of readings in it, or export it as CSV"
    )


def refuse_far(row: int, column: int, sheet: str, limits: Declarations) -> None:
    """Raise when a cell with content stands beyond the site's limits on rows or columns."""
    if row > limits.max_rows or column > limits.max_columns:
        raise UnreadableSheetError(
            f"a cell in row {row}, column {column} is beyond the {limits.max_rows} rows "
            f"and {limits.max_columns} columns allowed",
            where=f"sheet {sheet}",
            do="delete what stands far out, or export the sheet of readings as CSV",
        )
