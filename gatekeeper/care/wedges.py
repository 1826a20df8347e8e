"""Curves of the wedges that were filed: each sound wedge becomes one curve in the store, once.

It can be done again at any time: what is in the store is not built anew, and what is missing there
is made from the folders, which are the record.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.control.curve import build
from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.control.wedge import NAMES, Room, read_wedge
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing.folder import VERDICT, read_record
from gatekeeper.filing.names import shelf_name
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.room import declarations_of
from gatekeeper.sheet import SheetKind
from gatekeeper.verdict import Decision
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.care.curve_store import CurveStore
    from gatekeeper.control.curve import BuiltCurve
    from gatekeeper.filing.disk import Disk
    from gatekeeper.room import Book
    from gatekeeper.site import Site
    from gatekeeper.verdict import Verdict


def collect_curves(site: Site, book: Book, store: CurveStore, disk: Disk) -> list[BuiltCurve]:
    """Build what is missing in the store, and return it."""
    known = {source for curve in store.curves() for source in curve.sources}
    return [
        store.put(curve)
        for folder, verdict in _sound_wedges(site, disk)
        if verdict.sheets[-1].sha256 not in known
        and (curve := _curve_of(folder, verdict, site, book, disk))
    ]


def _sound_wedges(site: Site, disk: Disk) -> Iterator[tuple[Path, Verdict]]:
    shelf = site.approved / shelf_name(SHELVES[SheetKind.WEDGE])
    for name in disk.names(shelf):
        record = read_record(disk, shelf / name / VERDICT)
        if record and record.verdict.decision is Decision.APPROVED and record.verdict.sheets:
            yield shelf / name, record.verdict


def _curve_of(
    folder: Path, verdict: Verdict, site: Site, book: Book, disk: Disk
) -> BuiltCurve | None:
    """Return the curve of a filed wedge, None where register or rules have changed under it."""
    judged = verdict.sheets[-1]
    declarations = declarations_of(site, book.profiles)
    room = Room(
        book.library, book.register, datetime.fromisoformat(verdict.arrived), site.time_zone
    )
    try:
        content = disk.read(folder / judged.name, declarations.max_bytes)
        sheet = read_sheet(RawFile(judged.name, content), declarations)
        wedge, _ = read_wedge(sheet.negatives[0], room, _workflow(verdict))
    except (UnreadableSheetError, OSError, BrokenFilesError, IndexError):
        return None
    curve, _ = build(wedge) if wedge else (None, ())
    return replace(curve, sources=(judged.sha256,)) if curve else None


def _workflow(verdict: Verdict) -> str:
    return next(
        (str(finding.measured) for finding in verdict.findings if finding.rule == NAMES), ""
    )
