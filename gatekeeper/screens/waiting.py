"""What waits right now: as the daemon says while it runs, else as the drop folders show."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from gatekeeper.filing.desk import WORK, Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.intake.scan import is_litter, list_drop_folder
from gatekeeper.intake.sorting import read_start
from gatekeeper.readers.choose import HEAD_BYTES, looks_like_sheet
from gatekeeper.room import declared_by
from gatekeeper.rounds.outlook import WITHOUT_SHEET, Waiting
from gatekeeper.screens.present import read_present
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.single import is_at_work
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.filing.tickets import Identity
    from gatekeeper.intake.scan import Group
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.site import Site

NOBODY = "waits: the daemon is not running"
ALONE = f"{WITHOUT_SHEET}; the daemon is not running"
BEGUN = "was taken in and not finished: waits for the next start of the daemon"


def waiting_now(site: Site) -> tuple[Waiting, ...]:
    """Return what waits; without a daemon its last words are old, and the folders are looked at."""
    if is_at_work(site.state, site.gate) is not False:
        present = read_present(site.state)
        return present.waiting if present else ()
    return tuple(_look(site))


def _look(site: Site) -> Iterator[Waiting]:
    disk, declarations = Disk(), declared_by(site)
    for workflow, folder in _drop_folders(disk, site):
        where = workflow or "."
        try:
            listing = list_drop_folder(folder, site.litter, with_folders=bool(workflow))
            begun = _begun(disk, site, folder)
        except OSError as error:
            yield Waiting(where, folder.name, f"cannot be looked into: {error.strerror}")
            continue
        for group in listing.groups:
            name, reason = _said_of(folder, group, declarations)
            yield Waiting(where, name, reason)
        yield from (Waiting(where, plain(odd.name), odd.reason) for odd in listing.odd)
        yield from (Waiting(where, plain(name), BEGUN) for name in begun)


def _said_of(folder: Path, group: Group, declarations: Declarations) -> tuple[str, str]:
    """Return name and reason of a group: what the next round will find, as far as is clear now."""

    def is_sheet(file: Identity) -> bool:
        # An ending that tells spares opening the file; one that cannot be opened is for the round.
        with contextlib.suppress(OSError):
            return looks_like_sheet(file.own_name, b"", declarations) or looks_like_sheet(
                file.own_name, read_start(folder / file.name, HEAD_BYTES), declarations
            )
        return True

    if not any(map(is_sheet, group.files)):
        return ", ".join(plain(file.name) for file in group.files), ALONE
    empty = f"{group.emptiness}; " if group.emptiness else ""
    return plain(group.hint), f"{empty}{NOBODY}"


def _drop_folders(disk: Disk, site: Site) -> Iterator[tuple[str, Path]]:
    yield "", site.drop
    for name in disk.names(site.drop):
        own = name in {WORK, CONCESSIONS} or is_litter(name, site.litter)
        if not own and disk.is_folder(site.drop / name):
            yield name, site.drop / name


def _begun(disk: Disk, site: Site, folder: Path) -> list[str]:
    """Return the names of sheets that lie in claims."""
    claims = Roots(site.drop, site.approved, site.held, site.gate).claims(folder)
    return [
        name
        for ticket in disk.names(claims)
        if not ticket.endswith(".done")
        for name in disk.names(claims / ticket / "in")
    ]
