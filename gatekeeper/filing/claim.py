"""Steps 1 and 2: a ticket is written, then the sheet and its companions are claimed by rename."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.filing.desk import WORK, Desk, Roots
from gatekeeper.filing.tickets import TICKET_FILE, Identity, Ticket, identity_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk


def prepare(disk: Disk, roots: Roots, drop_folder: Path) -> None:
    """Make the folders of claims and benches where they are missing. Their roots must be online."""
    for folder in (roots.claims(drop_folder), roots.benches, roots.landings):
        for path in (folder.parent, folder):
            if not disk.is_folder(path):
                disk.make_folder(path)
                disk.sync(path.parent)


def write_ticket(disk: Disk, roots: Roots, ticket: Ticket) -> Desk:
    """Step 1: make the ticket under a name that a restart throws away, then give it its own."""
    desk = Desk(roots, ticket)
    new = desk.claim.with_name(f"{ticket.id}.new")
    disk.make_folder(new)
    disk.make_folder(new / "in")
    disk.write_new(new / TICKET_FILE, ticket.to_bytes())
    disk.sync(new)
    disk.rename_new(new, desk.claim)
    disk.sync(desk.claim.parent)
    return desk


def claim(disk: Disk, desk: Desk) -> bool:
    """Step 2: take the sheet, then each companion that is still the file that was seen.

    False: somebody else took the sheet. A crash between two renames leaves some files in drop and
    some in the claim; both are found again by identity.
    """
    if disk.lstat(desk.sheet_in_claim) is None:
        if not desk.ticket.sheet.is_of(disk.lstat(desk.sheet_in_drop)):
            return False
        try:
            disk.rename_new(desk.sheet_in_drop, desk.sheet_in_claim)
        except FileNotFoundError:
            return False
    for companion in desk.ticket.companions:
        _take(disk, desk, companion)
    disk.sync(desk.originals)
    disk.sync(desk.drop_folder)
    inner = desk.sheet_in_drop.parent
    if inner != desk.drop_folder and disk.is_folder(inner):
        disk.sync(inner)
    return True


def _take(disk: Disk, desk: Desk, companion: Identity) -> None:
    source = desk.drop_folder / companion.name
    if companion.is_of(disk.lstat(source)):
        disk.rename_new(source, desk.originals / companion.own_name)


def claimed_companions(disk: Disk, desk: Desk) -> list[str]:
    """Return the names of the companions that lie in the claim."""
    return [name for name in disk.names(desk.originals) if name != desk.ticket.sheet.own_name]


def reclaim_changed(disk: Disk, desk: Desk, name: str, now_id: str, arrived: str) -> Desk:
    """Make a ticket around an original that changed after it was judged: it is a new arrival."""
    found = disk.lstat(desk.originals / name)
    if found is None:
        raise FileNotFoundError(name)
    ticket = Ticket(
        id=now_id,
        gate=desk.ticket.gate,
        kind=desk.ticket.kind,
        workflow=desk.ticket.workflow,
        arrived=arrived,
        job_hint=desk.ticket.job_hint,
        sheet=identity_of(f"{WORK}/{name}", found),
    )
    fresh = write_ticket(disk, desk.roots, ticket)
    disk.rename_new(desk.originals / name, fresh.sheet_in_claim)
    disk.sync(fresh.originals)
    disk.sync(desk.originals)
    return fresh
