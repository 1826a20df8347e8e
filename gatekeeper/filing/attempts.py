"""Step 3: attempts are counted by making files, and which job a ticket belongs to is noted once."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from gatekeeper.filing.desk import Desk, JobName

if TYPE_CHECKING:
    from gatekeeper.filing.disk import Disk

LAST = 3
"""The third start of one ticket without a decision does not read: reading ended the program."""

JOB_FILE = "job.json"
_LONGEST = 100_000


def attempts(disk: Disk, desk: Desk) -> int:
    """Return how many starts of this ticket have been counted."""
    return sum(name.startswith("attempt.") for name in disk.names(desk.claim))


def count_attempt(disk: Disk, desk: Desk) -> int:
    """Count one more start, durably, and return its number."""
    number = attempts(disk, desk) + 1
    disk.write_new(desk.claim / f"attempt.{number}", b"")
    disk.sync(desk.claim)
    return number


def forget_attempt(disk: Disk, desk: Desk, number: int) -> None:
    """Take a count back when the start ended in good order, waiting for rules or for the room."""
    disk.unlink(desk.claim / f"attempt.{number}")


def note_job(disk: Disk, desk: Desk, name: JobName) -> JobName:
    """Note which job the ticket belongs to; the first note stands, whatever is read later."""
    earlier = noted_job(disk, desk)
    if earlier:
        return earlier
    content = json.dumps({"job": name.job, "workflow": name.workflow, "sha256": name.sha256})
    temporary = desk.claim / f"{JOB_FILE}.new"
    disk.unlink(temporary)
    disk.write_new(temporary, content.encode("ascii"))
    disk.rename_new(temporary, desk.claim / JOB_FILE)
    disk.sync(desk.claim)
    return name


def noted_job(disk: Disk, desk: Desk) -> JobName | None:
    """Return which job the ticket belongs to, None before its sheet was first read."""
    path = desk.claim / JOB_FILE
    if disk.lstat(path) is None:
        return None
    return JobName(**json.loads(disk.read(path, _LONGEST)))
