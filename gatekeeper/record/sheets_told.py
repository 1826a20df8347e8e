"""The sheets that the history is told of with a verdict, read again where they are not at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.measured import measure
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing.folder import sha256_of
from gatekeeper.history import Reading
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.sheet import Sheet
    from gatekeeper.verdict import JudgedSheet, Verdict


def told_sheets(verdict: Verdict) -> Sequence[JudgedSheet]:
    """Return the sheets that came with a verdict, or all of its job where none did.

    A sheet that another one overtook has a ticket of its own, under which no verdict was filed.
    """
    new = [judged for judged in verdict.sheets if judged.ticket == verdict.ticket]
    return new or verdict.sheets


def read_again(disk: Disk, path: Path, sha256: str, declarations: Declarations) -> Sheet | None:
    """Read a sheet again; None where it is not there any more, or not what was judged."""
    try:
        content = disk.read(path, declarations.max_bytes)
        if sha256_of(content) != sha256:
            return None
        return read_sheet(RawFile(path.name, content), declarations)
    except (UnreadableSheetError, OSError):
        return None


def readings_of(sheet: Sheet) -> tuple[Reading, ...]:
    """Return every patch of a sheet with its net density, as the checks saw it."""
    return tuple(
        Reading(number, entry.patch, entry.net)
        for number, negative in enumerate(sheet.negatives)
        for entry in measure(negative).patches
    )
