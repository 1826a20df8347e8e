"""What this gate has begun: its tickets, what is rubbish, and work that has lost its ticket."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.desk import DONE, Desk, Roots
from gatekeeper.filing.online import require_online
from gatekeeper.filing.states import Note, Seen, Sheet, Tidy, row_of
from gatekeeper.filing.tickets import (
    TICKET_FILE,
    Identity,
    Ticket,
    identity_of,
    made_at,
    ticket_of,
)

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from gatekeeper.errors import RoomError
    from gatekeeper.filing.disk import Disk

NEW = ".new"
FOUND = "found in work without a ticket"
LOST_ARRIVAL = "1970-01-01T00:00:00+00:00"
_LONGEST_TICKET = 10_000_000


@dataclass(slots=True)
class Worklist:
    """Tickets, oldest first, and what is wrong with some: the others are worked on all the same."""

    desks: list[Desk] = field(default_factory=list)
    troubles: list[RoomError | OSError] = field(default_factory=list)


def tickets_in(disk: Disk, roots: Roots, drop_folder: Path, workflow: str) -> Worklist:
    """Return this gate's tickets on a drop folder; rubbish is cleared away."""
    found = Worklist()
    claims = roots.claims(drop_folder)
    for name in disk.names(claims):
        if not disk.is_folder(claims / name):
            continue
        try:
            ticket = _ticket_at(disk, roots, claims / name, workflow)
        except (trouble.StateAlarm, OSError) as error:
            found.troubles.append(error)
        else:
            if ticket:
                found.desks.append(Desk(roots, ticket))
    return found


def _ticket_at(disk: Disk, roots: Roots, folder: Path, workflow: str) -> Ticket | None:
    """Return the ticket of a claim folder, None where it was rubbish."""
    is_rubbish = folder.name.endswith((NEW, DONE))
    ticket = _read_ticket(disk, folder, workflow)
    if ticket and not is_rubbish:
        return ticket
    row = row_of(
        Seen(
            Sheet.IN if disk.names(folder / "in") else Sheet.GONE,
            note=Note.NEW if is_rubbish else Note.DAMAGED,
        )
    )
    if row is None:
        require_online(disk, roots)
        raise trouble.without_ticket(folder)
    if row.tidy is Tidy.DISCARD:
        disk.remove_tree(folder)
        return None
    if is_rubbish:
        folder = _renamed(disk, folder)
        ticket = _read_ticket(disk, folder, workflow)
    return ticket or _rebuilt(disk, roots, folder, workflow)


def _read_ticket(disk: Disk, folder: Path, workflow: str) -> Ticket | None:
    """Return the ticket if it is this folder's own; a later name is one that it was given anew."""
    path = folder / TICKET_FILE
    if disk.lstat(path) is None:
        return None
    ticket = ticket_of(disk.read(path, _LONGEST_TICKET))
    if ticket is None or ticket.workflow != workflow or ticket.id == folder.name:
        return ticket if ticket and ticket.workflow == workflow else None
    is_later = made_at(folder.name) is not None and folder.name > ticket.id
    return ticket.numbered_anew(folder.name) if is_later else None


def _renamed(disk: Disk, folder: Path) -> Path:
    plain = folder.with_name(folder.name.removesuffix(NEW).removesuffix(DONE))
    disk.rename_new(folder, plain)
    disk.sync(folder.parent)
    return plain


def _rebuilt(disk: Disk, roots: Roots, folder: Path, workflow: str) -> Ticket:
    """Row 11: `ticket.json` was damaged. Write it anew around the files; it can only be held."""
    files = _files_of(disk, folder / "in")
    moment = made_at(folder.name)
    ticket = Ticket(
        id=folder.name,
        gate=roots.gate,
        kind="sheet",
        workflow=workflow,
        arrived=moment.isoformat(timespec="seconds") if moment else LOST_ARRIVAL,
        job_hint=files[0].name.rpartition(".")[0] or files[0].name,
        sheet=files[0],
        companions=tuple(files[1:]),
        refusal=FOUND,
    )
    temporary = folder / f"{TICKET_FILE}{NEW}"
    disk.unlink(temporary)
    disk.write_new(temporary, ticket.to_bytes())
    disk.unlink(folder / TICKET_FILE)
    disk.rename_new(temporary, folder / TICKET_FILE)
    disk.sync(folder)
    return ticket


def _files_of(disk: Disk, originals: Path) -> list[Identity]:
    """Return the files of a claim, the likeliest sheet first: sheets are small, artwork is not."""
    found = [(name, disk.lstat(originals / name)) for name in disk.names(originals)]
    files = [identity_of(name, entry) for name, entry in found if entry]
    return sorted(files, key=lambda file: (not file.name.endswith(".csv"), file.size, file.name))


def clear_rubbish(disk: Disk, roots: Roots) -> None:
    """Delete benches, landings and temporary files that were made rubbish before a crash."""
    for folder in (roots.benches, roots.landings):
        for name in disk.names(folder):
            if not name.endswith(DONE):
                continue
            if disk.is_folder(folder / name):
                disk.remove_tree(folder / name)
            else:
                disk.unlink(folder / name)


def lost_work(disk: Disk, roots: Roots, known: Collection[str]) -> list[RoomError]:
    """Return an alarm for each bench or landing whose ticket is gone; they hold job folders.

    Asked only after every drop folder has told its tickets. A bench that holds nothing but
    temporary files is thrown away: a gate that slept while its ticket was taken over leaves one.
    """
    alarms: list[RoomError] = []
    for folder in (roots.benches, roots.landings):
        for name in disk.names(folder):
            if name.endswith(DONE) or name in known:
                continue
            place = folder / name
            if disk.is_folder(place) and all(n.startswith("tmp-") for n in disk.names(place)):
                disk.remove_tree(place)
            else:
                alarms.append(trouble.without_ticket(place))
    return alarms
