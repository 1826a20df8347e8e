"""Step 6, gathering: the job tickets in the job folder, and which of them count.

A ticket came with a sheet or joined the folder late; it counts from the next verdict on, until a
newer one of its name takes its place. A sheet dropped again without its ticket is still judged by
the ticket that lies there: leaving it out must not loosen anything.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gatekeeper.case import JobTicket
from gatekeeper.filing.disk import TooLargeError
from gatekeeper.filing.folder import digest_in, sha256_of
from gatekeeper.intake.scan import stem_of
from gatekeeper.rules.job_ticket import MAX_BYTES, is_ticket
from gatekeeper.sheet import Problem
from gatekeeper.yamlfiles.load import CannotRead

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.tickets import Identity
    from gatekeeper.verdict import JudgedTicket
    from gatekeeper.yamlfiles.load import Content

DROP_AGAIN = "drop it together with the sheet again"
REMOVED = Problem("it was removed from the job folder by hand", DROP_AGAIN)
CHANGED = Problem("it was changed in the job folder after it was judged", DROP_AGAIN)

_NUMBERED = re.compile(r"(.+)\.([1-9][0-9]{0,5})(\.[^.]+)", re.DOTALL)


def job_tickets(
    disk: Disk,
    desk: Desk,
    names: Collection[str],
    judged: Collection[JudgedTicket],
    stems: Collection[str],
) -> tuple[JobTicket, ...]:
    """Return the job tickets of a job, by their names in the folder.

    Parameters
    ----------
    names : the files in the job folder that are no sheets
    judged : the tickets that the job's last verdict knew
    stems : of the names under which the job's sheets were dropped
    """
    known = {ticket.name: ticket for ticket in judged}
    found = sorted({name for name in names if is_ticket(name)} | known.keys(), key=_in_order)
    came = {file.own_name: file for file in desk.ticket.companions if is_ticket(file.own_name)}
    chains: dict[str, list[str]] = {}
    for name in found:
        own = known[name].dropped_as if name in known else _first_name(name, {*found, *came}, stems)
        chains.setdefault(own, []).append(name)
    return tuple(
        _ticket(disk, desk.job, name, own, known.get(name), counts=name == newest)
        for own, chain in chains.items()
        for newest in (_newest(disk, desk.job, chain, known, came.get(own)),)
        for name in chain
    )


def _in_order(name: str) -> tuple[str, int]:
    """Return what sorts `1041.yaml`, `1041.2.yaml`, `1041.10.yaml` as they came."""
    found = _NUMBERED.fullmatch(name)
    return (found[1] + found[3], int(found[2])) if found else (name, 1)


def _first_name(name: str, names: Collection[str], stems: Collection[str]) -> str:
    """Return the name under which a ticket was dropped: filing gives a second one a number."""
    found = _NUMBERED.fullmatch(name)
    if not found or stem_of(name) in stems:
        return name
    own = found[1] + found[3]
    return own if own in names else name


def _newest(
    disk: Disk,
    folder: Path,
    chain: list[str],
    known: Mapping[str, JudgedTicket],
    came: Identity | None,
) -> str:
    """Return the ticket that counts: the one that came with this sheet, else the latest to come."""
    if came:
        for name in reversed(chain):
            if came.is_of(disk.lstat(folder / name)):
                return name
    new = [name for name in chain if name not in known]
    return new[-1] if new else next(name for name in chain if known[name].current)


def _ticket(
    disk: Disk, folder: Path, name: str, own: str, judged: JudgedTicket | None, *, counts: bool
) -> JobTicket:
    if judged and not counts:
        return JobTicket(name, b"", judged.sha256, own, replaced=True)
    content, sha256 = read_ticket_file(disk, folder, name)
    if judged and sha256 != judged.sha256:
        # The old digest is kept, so that what a hand changed is not taken for judged next time.
        trouble = CHANGED if sha256 else REMOVED
        return JobTicket(name, content, judged.sha256, own, trouble=trouble)
    return JobTicket(name, content, sha256, own, replaced=not counts)


def read_ticket_file(disk: Disk, folder: Path, name: str) -> tuple[Content, str]:
    """Return bytes and digest of a ticket; of one that is too large as many as show it."""
    path = folder / name
    if not disk.is_plain(path):
        return CannotRead("it is no plain file"), ""
    try:
        content = disk.read(path, MAX_BYTES)
    except TooLargeError:
        return disk.head(path, MAX_BYTES + 1), digest_in(folder, name) or ""
    return content, sha256_of(content)
