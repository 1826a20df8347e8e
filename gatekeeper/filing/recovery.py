"""What is on the disk for a ticket, and putting it right as the state table says."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import noted_job, was_begun
from gatekeeper.filing.folder import VERDICT, read_record, valid_record
from gatekeeper.filing.moves import delete_landing, discard_job_on_bench, flush_filed
from gatekeeper.filing.online import require_online
from gatekeeper.filing.states import (
    CONCLUDES_ABSENCE,
    Bench,
    Filed,
    Row,
    Seen,
    Sheet,
    Step,
    Tidy,
    row_of,
)

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk


def see(disk: Disk, desk: Desk) -> Seen:
    """Return what is on the disk for one ticket."""
    return Seen(
        sheet=_see_sheet(disk, desk),
        begun=was_begun(disk, desk),
        bench=_see_bench(disk, desk),
        filed=_see_filed(disk, desk),
    )


def _see_sheet(disk: Disk, desk: Desk) -> Sheet:
    inside = disk.lstat(desk.sheet_in_claim) is not None
    in_drop = desk.ticket.sheet.is_of(disk.lstat(desk.sheet_in_drop))
    if inside:
        return Sheet.BOTH if in_drop else Sheet.IN
    return Sheet.DROP if in_drop else Sheet.GONE


def _see_bench(disk: Disk, desk: Desk) -> Bench:
    if not disk.is_folder(desk.job):
        return Bench.NONE
    record = valid_record(disk, desk.job)
    if record and record.verdict.ticket == desk.ticket.id:
        return Bench.DECIDED
    return Bench.OPEN


def _see_filed(disk: Disk, desk: Desk) -> Filed:
    if filed_place(disk, desk):
        return Filed.YES
    return Filed.LANDING if disk.is_folder(desk.landed) else Filed.NO


def filed_place(disk: Disk, desk: Desk) -> Path | None:
    """Return the job folder whose verdict carries this ticket, None while it is not filed."""
    name = noted_job(disk, desk)
    if name is None:
        return None
    for root in (desk.roots.approved, desk.roots.held):
        target = name.target(root)
        if not disk.is_folder(target):
            continue
        record = read_record(disk, target / VERDICT)
        if record and record.verdict.ticket == desk.ticket.id:
            return target
    return None


def require_filed(disk: Disk, desk: Desk) -> Path:
    """Return the job folder of a ticket that is filed."""
    filed = filed_place(disk, desk)
    if filed is None:
        raise trouble.undecided(desk.claim)
    return filed


def put_right(disk: Disk, desk: Desk) -> Step | None:
    """Look the ticket up in the state table, tidy up as it says, and return where to go on.

    None: the ticket is nobody's and is to be discarded.

    Raises
    ------
    StateAlarm : files were removed by hand, or the combination is in no row; nothing was touched
    OfflineError : the row rests on something not being there, and a folder is away
    """
    seen = see(disk, desk)
    row = row_of(seen)
    if row is None:
        raise trouble.unexplained(seen, desk.claim)
    if row.number in CONCLUDES_ABSENCE:
        require_online(disk, desk.roots)
    _flush(disk, desk, row)
    _tidy(disk, desk, row)
    return row.go_on


def _flush(disk: Disk, desk: Desk, row: Row) -> None:
    """Make durable what the row rests on: the kill may have come between a rename and its fsync."""
    if row.go_on is Step.CLAIM:
        disk.sync(desk.claim.parent)
    filed = filed_place(disk, desk) if row.filed is Filed.YES else None
    if filed:
        flush_filed(disk, desk, filed)


def _tidy(disk: Disk, desk: Desk, row: Row) -> None:
    match row.tidy:
        case Tidy.SETTLE:
            _settle_both(disk, desk)
        case Tidy.UNLAND:
            delete_landing(disk, desk)
        case Tidy.UNBENCH:
            discard_job_on_bench(disk, desk)
        case Tidy.ALARM:
            raise trouble.missing(desk.ticket.sheet.name, desk.claim)
        case Tidy.NOTHING | Tidy.DISCARD | Tidy.ONLY_HELD | Tidy.REBUILD:
            pass


def _settle_both(disk: Disk, desk: Desk) -> None:
    """One file under two names: drop loses it. Two files: the one in drop is a new arrival."""
    inside, in_drop = disk.lstat(desk.sheet_in_claim), disk.lstat(desk.sheet_in_drop)
    if inside and in_drop and os.path.samestat(inside, in_drop):
        disk.unlink(desk.sheet_in_drop)
        disk.sync(desk.sheet_in_drop.parent)
