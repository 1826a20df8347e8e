"""What is on the disk for each ticket, and putting it right as the state table says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.attempts import attempts, noted_job
from gatekeeper.filing.folder import read_record, valid_record
from gatekeeper.filing.moves import delete_landing, discard, discard_job_on_bench
from gatekeeper.filing.states import Bench, Filed, Row, Seen, Sheet, Step, Tidy, row_of
from gatekeeper.filing.tickets import TICKET_FILE, Identity, Ticket, ticket_of

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, Roots
    from gatekeeper.filing.disk import Disk

_LONGEST_TICKET = 10_000_000


class StateAlarm(RoomError):  # noqa: N818 -- an alarm is what it is called on the board
    """Work lies on the disk that no rule explains: nothing is touched."""


def see(disk: Disk, desk: Desk) -> Seen:
    """Return what is on the disk for one ticket."""
    return Seen(
        sheet=_see_sheet(disk, desk),
        attempted=attempts(disk, desk) > 0,
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
    return Filed.LANDING if disk.is_folder(desk.landing / "job") else Filed.NO


def filed_place(disk: Disk, desk: Desk) -> Path | None:
    """Return the job folder whose verdict carries this ticket, None while it is not filed."""
    name = noted_job(disk, desk)
    if name is None:
        return None
    for root in (desk.roots.approved, desk.roots.held):
        target = name.target(root)
        if not disk.is_folder(target):
            continue
        record = read_record(disk, target / "verdict.json")
        if record and record.verdict.ticket == desk.ticket.id:
            return target
    return None


def put_right(disk: Disk, desk: Desk) -> tuple[Row, Step | None]:
    """Look the ticket up in the state table, tidy up as it says, and return where the work goes on.

    Raises
    ------
    StateAlarm : files were removed by hand, or the combination is in no row; nothing was touched
    """
    seen = see(disk, desk)
    row = row_of(seen)
    if row is None or row.tidy is Tidy.ALARM_MISSING:
        raise StateAlarm(
            f"ticket {desk.ticket.id}: the sheet {desk.ticket.sheet.name!r} is missing"
            if row
            else f"ticket {desk.ticket.id} is in a state that nothing explains: {seen}",
            where=str(desk.claim),
            do="files in a .gatekeeper folder were changed by hand; look there and put them back",
        )
    match row.tidy:
        case Tidy.DISCARD_TICKET:
            discard(disk, desk)
        case Tidy.SETTLE_BOTH:
            _settle_both(disk, desk)
        case Tidy.DELETE_LANDING:
            delete_landing(disk, desk)
        case Tidy.DISCARD_BENCH:
            discard_job_on_bench(disk, desk)
        case _:
            pass
    return row, row.go_on


def _settle_both(disk: Disk, desk: Desk) -> None:
    inside, in_drop = disk.lstat(desk.sheet_in_claim), disk.lstat(desk.sheet_in_drop)
    if inside and in_drop and (inside.st_dev, inside.st_ino) == (in_drop.st_dev, in_drop.st_ino):
        disk.unlink(desk.sheet_in_drop)
        disk.sync(desk.sheet_in_drop.parent)


def tickets_in(disk: Disk, roots: Roots, drop_folder: Path, workflow: str) -> list[Ticket]:
    """Return this gate's tickets on a drop folder, oldest first; rubbish is cleared away."""
    claims = roots.claims(drop_folder)
    found: list[Ticket] = []
    for name in disk.names(claims):
        folder = claims / name
        if not disk.is_folder(folder):
            continue
        if name.endswith(".done") or (name.endswith(".new") and not disk.names(folder / "in")):
            disk.remove_tree(folder)
            continue
        ticket = _read_ticket(disk, folder)
        found.append(ticket or _rebuilt(disk, roots, folder, workflow))
    return found


def clear_rubbish(disk: Disk, roots: Roots) -> None:
    """Delete benches and landings that were made rubbish before a crash."""
    for folder in (roots.benches, roots.landings):
        for name in disk.names(folder):
            if name.endswith(".done"):
                disk.remove_tree(folder / name)


def _read_ticket(disk: Disk, folder: Path) -> Ticket | None:
    path = folder / TICKET_FILE
    if disk.lstat(path) is None:
        return None
    return ticket_of(disk.read(path, _LONGEST_TICKET))


def _rebuilt(disk: Disk, roots: Roots, folder: Path, workflow: str) -> Ticket:
    """Row 11: `ticket.json` was damaged. Write it anew around the files; it can only be held."""
    files = disk.names(folder / "in")
    if not files:
        raise StateAlarm(
            f"{folder} has no readable ticket and no files",
            where=str(folder),
            do="look there; remove the folder if it is of no use",
        )
    entries = []
    for name in files:
        entry = disk.lstat(folder / "in" / name)
        if entry:
            entries.append(Identity(name, entry.st_size, entry.st_mtime_ns, entry.st_ino))
    ticket = Ticket(
        id=folder.name.removesuffix(".new"),
        gate=roots.gate,
        kind="sheet",
        workflow=workflow,
        arrived=_arrival(folder.name),
        job_hint=files[0].rsplit(".", 1)[0] or files[0],
        sheet=entries[0],
        companions=tuple(entries[1:]),
        refusal="found in work without a ticket",
    )
    disk.unlink(folder / TICKET_FILE)
    disk.write_new(folder / TICKET_FILE, ticket.to_bytes())
    disk.sync(folder)
    if folder.name.endswith(".new"):
        disk.rename_new(folder, folder.with_name(ticket.id))
        disk.sync(folder.parent)
    return ticket


def _arrival(ticket_id: str) -> str:
    """Return the moment that a ticket's id carries, or the oldest one that can be written."""
    stamp = ticket_id.split("Z-", 1)[0]
    try:
        day, clock = stamp.split("T", 1)
        return f"{day[:4]}-{day[4:6]}-{day[6:8]}T{clock[:2]}:{clock[2:4]}:{clock[4:6]}+00:00"
    except ValueError:
        return "1970-01-01T00:00:00+00:00"
