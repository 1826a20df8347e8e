"""Step 3: the claimed sheet is read once; which job it belongs to follows from what it says."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.control.room_sheets import is_about_the_room, place_of
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import LAST
from gatekeeper.filing.disk import NotPlainFileError, TooLargeError
from gatekeeper.filing.folder import sha256_of
from gatekeeper.filing.names import tidy
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.sheet import Problem, Sheet

if TYPE_CHECKING:
    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation

EXPORT_AGAIN = "export or type the readings again and drop the new file"
BROUGHT_DOWN = "reading it ended the program twice before"
REMOVED = "the original was removed by hand while it was worked on"

_BAD_MEDIUM = {errno.EIO, errno.EBADMSG, errno.EUCLEAN, errno.ENODATA}


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """The bytes that are judged and what they say, or why they are not read."""

    content: bytes | None  # None where the file is brought as it is
    sha256: str  # empty where nobody knows the bytes
    sheet: Sheet | None
    problem: Problem | None = None
    is_judged: bool = True  # False: held at once, nothing of the job is read again

    @property
    def customer(self) -> str:
        """The customer that the sheet names, empty where it names none."""
        named = [n.customer.value for n in self.sheet.negatives if n.customer] if self.sheet else []
        return named[-1] if named else ""


def read_claimed(
    disk: Disk, desk: Desk, situation: Situation, *, attempt: int, fault: str
) -> ReadSheet:
    """Read the claimed sheet, or say why it is not read.

    Parameters
    ----------
    attempt : number of this start; the third one does not read, since reading ended the program
    fault : what failed inside the program when this sheet was read before, empty when nothing did

    Raises
    ------
    StateAlarm : the claimed name is no plain file any more
    SheetFaultError : the disk does not give the bytes; they are asked for three times
    OSError : the disk or the share is at fault otherwise
    """
    if disk.lstat(desk.sheet_in_claim) is None:
        return _unread(REMOVED)
    try:
        content = disk.read(desk.sheet_in_claim, situation.declarations.max_bytes)
    except NotPlainFileError as error:
        raise trouble.not_a_plain_file(desk.sheet_in_claim) from error
    except TooLargeError as error:
        return _unread(f"the file is too large to be a sheet ({error.strerror})")
    except OSError as error:
        if error.errno not in _BAD_MEDIUM:
            raise
        if attempt < LAST:
            raise trouble.unread(desk.ticket.sheet.own_name, error) from error
        return _unread(f"the disk does not give it: {error.strerror}")
    return _understood(desk, content, situation, fault or (BROUGHT_DOWN * (attempt >= LAST)))


def _unread(reason: str) -> ReadSheet:
    return ReadSheet(None, "", None, Problem(reason, EXPORT_AGAIN))


def _understood(desk: Desk, content: bytes, situation: Situation, fault: str) -> ReadSheet:
    sha256 = sha256_of(content)
    if fault:
        return ReadSheet(content, sha256, None, Problem(fault, EXPORT_AGAIN), is_judged=False)
    if desk.ticket.refusal:
        return ReadSheet(content, sha256, None, Problem(desk.ticket.refusal, EXPORT_AGAIN))
    sheet, problem = parsed(desk.ticket.sheet.own_name, content, situation)
    return ReadSheet(content, sha256, sheet, problem)


def parsed(name: str, content: bytes, situation: Situation) -> tuple[Sheet | None, Problem | None]:
    """Return what the bytes say, or why they cannot be read."""
    try:
        return read_sheet(RawFile(name, content), situation.declarations), None
    except UnreadableSheetError as error:
        where = f" ({error.where})" if error.where else ""
        return None, Problem(error.what + where, error.do or EXPORT_AGAIN)


def job_and_workflow(desk: Desk, read: ReadSheet, situation: Situation) -> tuple[str, str]:
    """Return which job the sheet belongs to: as it says, else by its file's or folder's name.

    A sheet about the room belongs to none: it is a record of its own on a shelf of its own.
    """
    if read.sheet and is_about_the_room(read.sheet):
        arrived = datetime.fromisoformat(desk.ticket.arrived)
        name, shelf = place_of(
            read.sheet,
            dropped_in=desk.ticket.workflow,
            arrived=arrived,
            zone=situation.time_zone,
        )
        return tidy(name), shelf
    negatives = read.sheet.negatives if read.sheet else ()
    jobs = [negative.job.value for negative in negatives if negative.job]
    job = tidy(jobs[0]) if jobs else ""
    workflow = desk.ticket.workflow
    if not workflow:
        named = [negative.workflow.value for negative in negatives if negative.workflow]
        workflow = named[-1] if named and named[-1] in situation.library.workflows else ""
    return job or tidy(desk.ticket.job_hint) or "unnamed", workflow
