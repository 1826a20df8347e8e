"""Step 10: what was taken in is compared with what was filed, then the work is cleared away."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import noted_job
from gatekeeper.filing.claim import claimed_companions, write_ticket
from gatekeeper.filing.companions import join
from gatekeeper.filing.copying import file_digest, same_file
from gatekeeper.filing.desk import DONE, WORK
from gatekeeper.filing.folder import valid_record
from gatekeeper.filing.joblock import unlock_job
from gatekeeper.filing.tickets import Ticket, identity_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk


def remove_judged_original(disk: Disk, desk: Desk, filed: Path) -> bool:
    """Remove the original if it is what was judged; False: it changed after it was read.

    A writer that kept its handle open can change the original after the claim, but not the copy
    that was judged.
    """
    original = desk.sheet_in_claim
    if disk.lstat(original) is None:
        return True
    record = valid_record(disk, filed)
    own = [
        sheet
        for sheet in (record.verdict.sheets if record else ())
        if sheet.ticket == desk.ticket.sheet_id
    ]
    for sheet in own:
        if sheet.sha256:
            is_judged = disk.is_plain(original) and file_digest(original) == sheet.sha256
        else:  # it was brought unread, by a second name for the same file or by a copy
            is_judged = same_file(disk, original, filed / sheet.name)
        if is_judged:
            disk.unlink(original)
            return True
    return False


def bring_left_companions(disk: Disk, desk: Desk, filed: Path) -> None:
    """Remove what was copied across filesystems; a companion that changed meanwhile comes again."""
    for name in claimed_companions(disk, desk):
        join(disk, desk.roots, desk.originals / name, filed)


def second_look(disk: Disk, desk: Desk, new_id: str, arrived: str) -> Desk:
    """Make a ticket around an original that changed after it was judged: it is a new arrival.

    It belongs to the same job whatever it says now, for that job rests on what it said before.
    Cut before the rename, the new ticket has no sheet and is thrown away, and this is done again.
    """
    sheet = desk.sheet_in_claim
    found = disk.lstat(sheet)
    if found is None or not disk.is_plain(sheet):
        raise trouble.not_a_plain_file(sheet)
    ticket = Ticket(
        id=new_id,
        gate=desk.roots.gate,
        kind=desk.ticket.kind,
        workflow=desk.ticket.workflow,
        arrived=arrived,
        job_hint=desk.ticket.job_hint,
        sheet=identity_of(f"{WORK}/{sheet.name}", found),
    )
    fresh = write_ticket(disk, desk.roots, ticket, noted_job(disk, desk))
    disk.rename_new(sheet, fresh.sheet_in_claim)
    disk.sync(fresh.originals, desk.originals)
    return fresh


def remove_empty_dropped_folder(disk: Disk, desk: Desk) -> None:
    """Remove a dropped folder that everything was taken from."""
    folder = desk.dropped_folder
    if folder is None or not disk.is_folder(folder):
        return
    try:
        disk.remove_folder(folder)
    except OSError as error:
        if error.errno not in {errno.ENOTEMPTY, errno.EEXIST}:
            raise


def discard(disk: Disk, desk: Desk) -> None:
    """Clear landing, bench, then the claim, each made rubbish by one rename before it is emptied.

    Emptied in place, a bench that was cut half-way would look undecided again.

    Raises
    ------
    StateAlarm : files still lie in the claim, or a job on the bench; nothing was touched
    """
    left = disk.names(desk.originals)
    if left:
        raise trouble.left_in_work(left, desk.originals)
    for folder in (desk.job, desk.landed, desk.taken):
        if disk.lstat(folder) is not None:
            raise trouble.left_in_work([folder.name], folder)
    name = noted_job(disk, desk)
    if disk.is_folder(desk.originals):
        # Else a power cut may bring an original back into what is rubbish, as work to be done.
        disk.sync(desk.originals)
    for folder in (desk.landing, desk.bench, desk.claim):
        if disk.is_folder(folder):
            rubbish = folder.with_name(f"{folder.name}{DONE}")
            disk.rename_new(folder, rubbish)
            disk.sync(folder.parent)
            disk.remove_tree(rubbish)
    if name:
        # Last of all: while the ticket is there, no other gate may take the job and its verdict.
        unlock_job(disk, desk, name)
