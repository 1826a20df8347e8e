"""Jobs that stand in approved without a verdict that says so of exactly what lies in them.

No kill leaves such a folder: a hand changed it, or a disk. It is taken to held by a ticket of its
own, whose slip says why and stays in the job folder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.filing.claim import write_ticket
from gatekeeper.filing.desk import WORK, Desk, JobName, Roots
from gatekeeper.filing.folder import VERDICT, read_record, valid_record
from gatekeeper.filing.names import UNSORTED, job_of
from gatekeeper.filing.tickets import Identity, Ticket
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.filing.disk import Disk

KIND = "doubt"
NO_VERDICT = "it stood in approved without a verdict that can be read"
NOT_APPROVED = "it stood in approved, and its verdict says held"
OTHER_FILES = "it stood in approved, and its files are not those that were approved"


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A job that must not stand in approved, and why."""

    name: JobName
    reason: str


def doubtful_jobs(disk: Disk, roots: Roots) -> Iterator[Doubtful]:
    """Yield every job in approved whose verdict does not hold for it; reads every sheet there."""
    for shelf in disk.names(roots.approved):
        if shelf == WORK or not disk.is_folder(roots.approved / shelf):
            continue
        for folder in disk.names(roots.approved / shelf):
            reason = _doubt(disk, roots, shelf, folder)
            if reason:
                workflow = "" if shelf == UNSORTED else job_of(shelf) or shelf
                yield Doubtful(JobName(job_of(folder) or folder, workflow, folder), reason)


def _doubt(disk: Disk, roots: Roots, shelf: str, folder: str) -> str:
    place = roots.approved / shelf / folder
    if not disk.is_folder(place):
        return ""  # a file or a link there is no job
    record = read_record(disk, place / VERDICT)
    if record is None:
        return NO_VERDICT if disk.is_folder(place) else ""  # it may just have been taken away
    if record.verdict.decision is not Decision.APPROVED:
        return NOT_APPROVED
    return "" if valid_record(disk, place) else OTHER_FILES


def write_doubt(disk: Disk, roots: Roots, doubtful: Doubtful, new_id: str, arrived: str) -> Desk:
    """Make the ticket that takes the job to held, with a slip for its sheet.

    Cut before the slip, the ticket has no sheet and is thrown away; the next look doubts again.
    """
    slip = f"doubt-{new_id}.txt"
    content = f"{arrived}  {doubtful.reason}\n".encode()
    ticket = Ticket(
        id=new_id,
        gate=roots.gate,
        kind=KIND,
        workflow="",
        arrived=arrived,
        job_hint=doubtful.name.job,
        sheet=Identity(f"{WORK}/{slip}", len(content), 0, 0),
        refusal=doubtful.reason,
    )
    desk = write_ticket(disk, roots, ticket, doubtful.name)
    disk.write_new(desk.sheet_in_claim, content)
    return desk
