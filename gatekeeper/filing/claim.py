"""Steps 1 and 2: a ticket is written, then the sheet and its companions are claimed by rename."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import JOB_FILE, job_file
from gatekeeper.filing.desk import Desk, JobName, Roots
from gatekeeper.filing.online import require_online
from gatekeeper.filing.tickets import TICKET_FILE, Identity, Ticket

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from gatekeeper.filing.disk import Disk


def prepare(disk: Disk, roots: Roots, drop_folder: Path, *, is_start: bool = False) -> None:
    """Make the folders of claims and benches where they are missing. Their roots must be online.

    Parameters
    ----------
    is_start : what is there already is flushed too: a kill may have come before its flush, and a
        power cut would take such a folder away with all that was put into it since
    """
    for folder in (roots.claims(drop_folder), roots.benches, roots.landings):
        for path in (folder.parent, folder):
            make_if_absent(disk, roots, path)
            if is_start:
                disk.sync(path.parent)


def make_if_absent(disk: Disk, roots: Roots, path: Path) -> None:
    """Make one folder below a root that is online; never more than one level of them.

    Raises
    ------
    RoomError : a link or a file stands in its place, or its root is away
    """
    if disk.is_folder(path):
        return
    if disk.lstat(path) is not None:
        raise trouble.not_a_folder(path)
    require_online(disk, roots)
    with contextlib.suppress(FileExistsError):  # another gate was quicker
        disk.make_folder(path)
    disk.sync(path.parent)


def make_own(disk: Disk, roots: Roots, path: Path) -> None:
    """Make a folder of one ticket; one that is there is an earlier start's, perhaps not flushed."""
    if disk.is_folder(path):
        disk.sync(path.parent)
    else:
        make_if_absent(disk, roots, path)


def write_ticket(disk: Disk, roots: Roots, ticket: Ticket, job: JobName | None = None) -> Desk:
    """Step 1: make the ticket under a name that a restart throws away, then give it its own.

    Parameters
    ----------
    job : the job it belongs to, where that is known before its sheet is read
    """
    desk = Desk(roots, ticket)
    new = desk.claim.with_name(f"{ticket.id}.new")
    disk.make_folder(new)
    disk.make_folder(new / "in")
    if job:
        disk.write_new(new / JOB_FILE, job_file(job))
    disk.write_new(new / TICKET_FILE, ticket.to_bytes(), with_name=True)
    disk.rename_new(new, desk.claim)
    disk.sync(desk.claim.parent)
    return desk


def left_beside(disk: Disk, desks: Iterable[Desk]) -> Iterator[tuple[Desk, Identity]]:
    """Yield sheets that were refused together with a ticket's and have none: a crash came between.

    Alone in drop such a sheet would look like one that nothing speaks against.
    """
    desks = list(desks)
    known = {desk.ticket.sheet for desk in desks}
    for desk in desks:
        for sheet in desk.ticket.beside:
            if sheet not in known and sheet.is_of(disk.lstat(desk.drop_folder / sheet.name)):
                known.add(sheet)
                yield desk, sheet


def claim(disk: Disk, desk: Desk) -> bool:
    """Step 2: take the sheet, then each companion that is still the file that was seen.

    False: somebody else took the sheet. A crash between two renames leaves some files in drop and
    some in the claim; both are found again by identity.
    """
    if disk.lstat(desk.sheet_in_claim) is None and not _take(disk, desk, desk.ticket.sheet):
        return False
    for companion in desk.ticket.companions:
        _take(disk, desk, companion)
    inner = desk.sheet_in_drop.parent
    is_inside = inner != desk.drop_folder and disk.is_folder(inner)
    disk.sync(desk.originals, desk.drop_folder, *([inner] if is_inside else ()))
    return True


def _take(disk: Disk, desk: Desk, file: Identity) -> bool:
    """Take one file if it is still the one that was seen; what changed in this instant goes back.

    Cut before it went back, it stays in the claim and is judged as it is.
    """
    source, place = desk.drop_folder / file.name, desk.originals / file.own_name
    if not file.is_of(disk.lstat(source)):
        return False
    try:
        disk.rename_new(source, place)
    except FileNotFoundError:
        return False
    if file.is_of(disk.lstat(place)):
        return True
    with contextlib.suppress(FileExistsError):
        disk.rename_new(place, source)
        return False
    return True


def give_back(disk: Disk, desk: Desk) -> bool:
    """Put the sheet and its companions back where they were dropped, to arrive anew.

    False: they cannot go back, for somebody has used a name again. What has gone back is claimed
    again by its identity, now and after a cut; so the sheet goes last.
    """
    if desk.ticket.is_second_look:
        return False
    names = {file.own_name: file.name for file in (*desk.ticket.companions, desk.ticket.sheet)}
    try:
        for own_name, name in names.items():
            if disk.lstat(desk.originals / own_name) is not None:
                disk.rename_new(desk.originals / own_name, desk.drop_folder / name)
    except (FileExistsError, FileNotFoundError):
        return False
    disk.sync(desk.sheet_in_drop.parent)
    return True


def number_anew(disk: Disk, desk: Desk, new_id: str) -> Desk:
    """Give a ticket whose job was filed by a later one an id behind it, by one rename."""
    disk.remove_folder(desk.bench)
    later = Desk(desk.roots, desk.ticket.numbered_anew(new_id))
    disk.rename_new(desk.claim, later.claim)
    disk.sync(desk.claim.parent)
    return later


def claimed_companions(disk: Disk, desk: Desk) -> list[str]:
    """Return the names of the companions that lie in the claim."""
    return [name for name in disk.names(desk.originals) if name != desk.ticket.sheet.own_name]
