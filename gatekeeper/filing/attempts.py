"""Step 3: starts are counted by making files, and which job a ticket belongs to is noted once."""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError, RulesError
from gatekeeper.filing import trouble
from gatekeeper.filing.desk import DONE, Desk, JobName
from gatekeeper.filing.names import shelf_name
from gatekeeper.filing.spelling import settle_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.filing.disk import Disk

LAST = 3
"""The third start of one ticket without a decision does not read: reading ended the program."""

JOB_FILE = "job.json"
_STARTED = "attempt."
_WAITED = "waited"
_LONGEST = 100_000


def attempts(disk: Disk, desk: Desk) -> int:
    """Return how many starts of this ticket have been counted."""
    return sum(name.startswith(_STARTED) for name in disk.names(desk.claim))


def was_begun(disk: Disk, desk: Desk) -> bool:
    """Whether reading was ever begun; then a sheet that is gone was taken away by hand."""
    return any(name == _WAITED or name.startswith(_STARTED) for name in disk.names(desk.claim))


@contextmanager
def counted(disk: Disk, desk: Desk) -> Iterator[int]:
    """Count one more start for as long as it lasts, durably; its number is what comes back.

    A start that ends in good order, because rules are broken or the room is at fault, is taken
    back: it is not one that reading the sheet brought down. A sheet that the disk does not give
    stays counted, so that it is held in the end.
    """
    number = attempts(disk, desk) + 1
    path = desk.claim / f"{_STARTED}{number}"
    disk.write_new(path, b"", with_name=True)
    try:
        yield number
    except trouble.SheetFaultError:
        raise
    except (RulesError, RoomError, OSError):
        try:
            disk.rename_new(path, desk.claim / _WAITED)
        except FileExistsError:
            disk.unlink(path)
        raise


def note_job(disk: Disk, desk: Desk, job: str, workflow: str) -> JobName:
    """Note which job the ticket belongs to; the first note stands, whatever is read later."""
    earlier = noted_job(disk, desk)
    if earlier:
        return earlier
    beside = desk.bench.with_name(f"{desk.ticket.id}.spelling{DONE}")
    folder = settle_folder(disk, desk.roots, shelf_name(workflow), job, temporary=beside)
    name = JobName(job, workflow, folder)
    temporary = desk.claim / f"{JOB_FILE}.new"
    disk.unlink(temporary)
    disk.write_new(temporary, job_file(name))
    disk.rename_new(temporary, desk.claim / JOB_FILE)
    disk.sync(desk.claim)
    desk.noted.append(name)
    return name


def job_file(name: JobName) -> bytes:
    """Return the content of the note."""
    note = {"job": name.job, "workflow": name.workflow, "folder": name.folder}
    return (json.dumps(note, sort_keys=True) + "\n").encode("ascii")


def noted_job(disk: Disk, desk: Desk) -> JobName | None:
    """Return which job the ticket belongs to, None before its sheet was first read.

    Raises
    ------
    StateAlarm : the note is damaged
    """
    if desk.noted:
        return desk.noted[0]
    path = desk.claim / JOB_FILE
    try:
        name = _job_of(disk.read(path, _LONGEST))
    except FileNotFoundError:
        return None
    if name is None:
        raise trouble.damaged(JOB_FILE, path)
    desk.noted.append(name)
    return name


def _job_of(content: bytes) -> JobName | None:
    try:
        note = json.loads(content)
        name = JobName(note["job"], note["workflow"], note["folder"])
    except (ValueError, TypeError, KeyError):
        return None
    words = (name.job, name.workflow, name.folder)
    is_sound = all(isinstance(word, str) for word in words) and name.folder
    return name if is_sound and "/" not in name.folder and name.folder[0] != "." else None
