"""What waits right now: as the daemon says while it runs, else as the drop folders show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.filing.desk import WORK, Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.intake.scan import is_litter, list_drop_folder
from gatekeeper.rounds.outlook import Waiting
from gatekeeper.screens.present import read_present
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.single import is_at_work
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.site import Site

NOBODY = "waits: the daemon is not running"
BEGUN = "was taken in and not finished: waits for the next start of the daemon"


def waiting_now(site: Site) -> tuple[Waiting, ...]:
    """Return what waits; without a daemon its last words are old, and the folders are looked at."""
    if is_at_work(site.state, site.gate) is not False:
        present = read_present(site.state)
        return present.waiting if present else ()
    return tuple(_look(site))


def _look(site: Site) -> Iterator[Waiting]:
    disk = Disk()
    for workflow, folder in _drop_folders(disk, site):
        where = workflow or "."
        try:
            listing = list_drop_folder(folder, site.litter, with_folders=bool(workflow))
            begun = _begun(disk, site, folder)
        except OSError as error:
            yield Waiting(where, folder.name, f"cannot be looked into: {error.strerror}")
            continue
        yield from (Waiting(where, plain(group.hint), NOBODY) for group in listing.groups)
        yield from (Waiting(where, plain(odd.name), odd.reason) for odd in listing.odd)
        yield from (Waiting(where, plain(name), BEGUN) for name in begun)


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
