"""What lies in the drop folders and will never become a job."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, look
from gatekeeper.filing.disk import Disk
from gatekeeper.intake.scan import is_litter
from gatekeeper.rules.library import WORKFLOWS
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.wording import listing, nearest, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.doctor.interface import Ward

STALE = timedelta(days=1)
"""No transfer takes that long."""

_USUAL = {"thumbs.db", "desktop.ini", "@eadir", "system volume information", "lost+found"}
"""Litter that systems leave everywhere and for good, beside hidden files."""


def unknown_folders(ward: Ward) -> Iterator[Answer]:
    """Look for folders under drop that are no workflow's: every job dropped there is held."""
    library, drop, disk = ward.book.library, ward.site.drop, Disk()
    if any(file.startswith(WORKFLOWS) for file in library.broken_files):
        return  # the folder may be that of the broken file
    known = set(library.workflows)
    for name in disk.names(drop):
        own = name == CONCESSIONS or is_litter(name, ward.site.litter)
        if own or name in known or not disk.is_folder(drop / name):
            continue
        near = nearest(name, known)
        says = f"no workflow is called {quoted(name)}: every job dropped there is held"
        do = f"add a file for it to {WORKFLOWS}, or remove the folder"
        yield look("drop", says, f"{do}; the nearest workflow is {near}" if near else do)


def litter(ward: Ward) -> Iterator[Answer]:
    """Look for names that are never taken and have lain for long: a transfer that was cut off."""
    disk, drop = Disk(), ward.site.drop
    before = (ward.around.clock.now() - STALE).timestamp()
    folders = [drop, *(drop / name for name in disk.names(drop) if not name.startswith("."))]
    for folder in filter(disk.is_folder, folders):
        old = [name for name in _litter_in(ward, folder, disk) if _is_older(folder / name, before)]
        if old:
            says = f"in {folder.name}/ lies what is never taken: {listing(old, most=3)}"
            do = "a transfer was cut off, or an editor closed badly: send it again, then remove it"
            yield look("litter", says, do)


def _litter_in(ward: Ward, folder: Path, disk: Disk) -> Iterator[str]:
    for name in disk.names(folder):
        is_usual = name.startswith(".") or name.casefold() in _USUAL
        if not is_usual and is_litter(name, ward.site.litter):
            yield name


def _is_older(path: Path, moment: float) -> bool:
    try:
        return path.lstat().st_mtime < moment
    except FileNotFoundError:
        return False
