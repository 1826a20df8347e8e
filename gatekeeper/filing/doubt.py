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
from gatekeeper.filing.names import UNSORTED, folder_name, job_of, key_of, shelf_name
from gatekeeper.filing.tickets import Identity, Ticket
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict import Verdict

KIND = "doubt"
NO_VERDICT = "it stood in approved without a verdict that can be read"
NOT_APPROVED = "it stood in approved, and its verdict says held"
OTHER_FILES = "it stood in approved, and its files are not those that were approved"
OTHER_PLACE = "it stands under another name or workflow than its verdict is for"
BY_HAND = "no ticket can take it from there: take it out by hand"


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A job that must not stand where it stands in approved, and why."""

    name: JobName
    shelf: str
    reason: str

    @property
    def can_be_taken(self) -> bool:
        """Whether a ticket would find it: not on a shelf or under a name that only a hand gives."""
        return self.name.shelf == self.shelf and self.reason != OTHER_PLACE


def places_in_approved(disk: Disk, roots: Roots) -> Iterator[tuple[str, str]]:
    """Yield shelf and folder of everything that stands in approved."""
    for shelf in disk.names(roots.approved):
        if shelf != WORK and disk.is_folder(roots.approved / shelf):
            for folder in disk.names(roots.approved / shelf):
                yield shelf, folder


def doubt_about(disk: Disk, roots: Roots, shelf: str, folder: str) -> Doubtful | None:
    """Return the job if its verdict does not hold for it; reads every sheet in the folder.

    Raises
    ------
    OSError : something there cannot be read, which proves nothing
    """
    reason = _reason(disk, roots, shelf, folder)
    if not reason:
        return None
    workflow = "" if shelf == UNSORTED else job_of(shelf) or shelf
    return Doubtful(JobName(job_of(folder) or folder, workflow, folder), shelf, reason)


def _reason(disk: Disk, roots: Roots, shelf: str, folder: str) -> str:
    place = roots.approved / shelf / folder
    if not disk.is_folder(place):
        return ""  # a file or a link there is no job
    record = read_record(disk, place / VERDICT)
    if record is None:
        return NO_VERDICT if disk.is_folder(place) else ""  # it may just have been taken away
    if record.verdict.decision is not Decision.APPROVED:
        return NOT_APPROVED
    if not valid_record(disk, place):
        return OTHER_FILES
    return "" if _is_at_home(record.verdict, shelf, folder) else OTHER_PLACE


def _is_at_home(verdict: Verdict, shelf: str, folder: str) -> bool:
    """Whether a job stands where its verdict says, by any spelling of its number."""
    if shelf_name(verdict.workflow) != shelf:
        return False
    job = job_of(folder)
    return folder_name(verdict.job) == folder or (
        job is not None and key_of(job) == key_of(verdict.job)
    )


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
