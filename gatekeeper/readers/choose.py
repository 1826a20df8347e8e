"""Which reader takes a file: its content decides, its ending only where the content does not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePath
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.cgats_sheet import CgatsReader
from gatekeeper.readers.delimited import DelimitedReader
from gatekeeper.readers.json_sheet import JsonReader
from gatekeeper.readers.profiled import ProfiledReader
from gatekeeper.readers.workbook import WorkbookReader
from gatekeeper.wording import plain, quoted

if TYPE_CHECKING:
    from gatekeeper.readers.interface import Declarations, RawFile, Reader
    from gatekeeper.sheet import Sheet

HEAD_BYTES = 8_192
"""How much of a file is looked at to find its format."""

SHEET_ENDINGS = frozenset({".csv", ".tsv", ".it8", ".cgats", ".xlsx", ".xls", ".ods"})
"""A file of such a name is a sheet, however broken; any other only when its content says so."""

TICKET_ENDINGS = frozenset({".yaml", ".yml"})
"""Files of limits for a job; a sheet only where the site itself describes it as one."""

_OF_THE_SITE = ProfiledReader()
"""What the site itself has described outranks all others; an ending alone never leads to it."""

_READERS: tuple[Reader, ...] = (
    WorkbookReader(),
    CgatsReader(),
    JsonReader(),
    DelimitedReader(),
)
"""Every format, the most telling first."""


def read_sheet(file: RawFile, declarations: Declarations) -> Sheet:
    """Return what the file says.

    Raises
    ------
    UnreadableSheetError : no format fits, or the one that fits cannot be read
    """
    if len(file.content) > declarations.max_bytes:
        raise UnreadableSheetError(
            f"the file has {len(file.content)} bytes, "
            f"more than the {declarations.max_bytes} allowed",
            do="look whether it is a sheet of readings; the limit stands in site.yaml",
        )
    if not file.content.strip():
        raise UnreadableSheetError("the file is empty", do="write the readings and save it again")
    ending = ending_of(file.name)
    reader = _by_content(file.content[:HEAD_BYTES], declarations)
    if reader is None:
        reader = _by_ending(ending)
        return reader.read(file, declarations)
    sheet = reader.read(file, declarations)
    if ending in reader.endings:
        return sheet
    note = f"the ending {quoted(ending, 12)} is not one of {reader.format}, which the content is"
    return replace(sheet, notes=(*sheet.notes, note))


def looks_like_sheet(name: str, head: bytes, declarations: Declarations) -> bool:
    """Whether a dropped file is a sheet rather than a companion such as artwork."""
    if ending_of(name) in SHEET_ENDINGS:
        return True
    if ending_of(name) in TICKET_ENDINGS:  # its braces would look like JSON
        return _OF_THE_SITE.recognises(head[:HEAD_BYTES], declarations)
    return _by_content(head[:HEAD_BYTES], declarations) is not None


def ending_of(name: str) -> str:
    """Return the ending in lower case with its dot, empty when there is none."""
    return PurePath(name).suffix.casefold()


def _by_content(head: bytes, declarations: Declarations) -> Reader | None:
    readers: tuple[Reader, ...] = (_OF_THE_SITE, *_READERS)
    return next((reader for reader in readers if reader.recognises(head, declarations)), None)


def _by_ending(ending: str) -> Reader:
    for reader in _READERS:
        if ending in reader.endings:
            return reader
    raise UnreadableSheetError(
        "the file is not a sheet in any form known here, "
        f"and neither is its ending {plain(ending, 12)}",
        do="export the readings as CSV, CGATS.17 text or a spreadsheet, or write a reading profile",
    )
