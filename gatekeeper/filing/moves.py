"""Steps 7, 8 and 10: write the verdict, take the job folder to its target, clear the work away."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.copying import copy_tree, file_digest
from gatekeeper.filing.folder import REPORT, VERDICT, sha256_of, valid_record
from gatekeeper.verdict import Decision
from gatekeeper.verdict_document import to_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict import Verdict


def write_decision(disk: Disk, desk: Desk, verdict: Verdict, report: str) -> None:
    """Step 7: the report, then the verdict with the report's digest: its rename decides the job."""
    content = report.encode()
    _put(disk, desk, REPORT, content)
    _put(disk, desk, VERDICT, to_bytes(verdict, report_sha256=sha256_of(content)))
    disk.sync(desk.job)


def _put(disk: Disk, desk: Desk, name: str, content: bytes) -> None:
    temporary = desk.bench / f"tmp-{name}"
    disk.unlink(temporary)
    disk.write_new(temporary, content)
    disk.rename_new(temporary, desk.job / name)


def file_job(disk: Disk, desk: Desk, name: JobName) -> Path:
    """Step 8: take the decided job folder to approved or held, and return where it stands.

    Where it goes is read from the verdict on the bench, never handed in: location follows verdict.
    """
    record = valid_record(disk, desk.job)
    if record is None or record.verdict.ticket != desk.ticket.id:
        raise RoomError(f"the job on the bench has no valid verdict: {desk.job}")
    approved = record.verdict.decision is Decision.APPROVED
    root = desk.roots.approved if approved else desk.roots.held
    target = name.target(root)
    if not disk.is_folder(target.parent):
        disk.make_folder(target.parent)
        disk.sync(root)
    try:
        _move(disk, desk, target)
    except FileExistsError as error:
        raise RoomError(
            f"{target} is taken by a folder that this gate did not make",
            do="move that folder away by hand; the job waits on the bench and its verdict stands",
        ) from error
    return target


def _move(disk: Disk, desk: Desk, target: Path) -> None:
    try:
        disk.rename_new(desk.job, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _move_across(disk, desk, target)
        return
    disk.sync(target.parent)
    disk.sync(desk.bench)


def _move_across(disk: Disk, desk: Desk, target: Path) -> None:
    """Copy to a landing on the target's filesystem, rename there, only then remove the source."""
    if not disk.is_folder(desk.landing):
        disk.make_folder(desk.landing)
        disk.sync(desk.landing.parent)
    copy_tree(disk, desk.job, desk.landing / "job")
    disk.sync(desk.landing)
    disk.rename_new(desk.landing / "job", target)
    disk.sync(target.parent)
    disk.sync(desk.landing)
    discard_job_on_bench(disk, desk)


def discard_job_on_bench(disk: Disk, desk: Desk) -> None:
    """Make the filed job's copy on the bench rubbish by one rename, then delete it."""
    rubbish = desk.bench / "tmp-job.done"
    if disk.is_folder(desk.job):
        disk.rename_new(desk.job, rubbish)
        disk.sync(desk.bench)
    disk.remove_tree(rubbish)


def delete_landing(disk: Disk, desk: Desk) -> None:
    """Throw away a half-written copy on the target's filesystem."""
    disk.remove_tree(desk.landing / "job")


def changed_originals(disk: Disk, desk: Desk, filed: Path) -> list[str]:
    """Step 10, looking: remove each original that is what was judged, return the others' names.

    A writer that kept its handle open can change the original after it was read, but not the copy
    that was judged.
    """
    record = valid_record(disk, filed)
    judged = {
        sheet.sha256
        for sheet in (record.verdict.sheets if record else ())
        if sheet.ticket == desk.ticket.id
    }
    changed: list[str] = []
    for name in disk.names(desk.originals):
        path = desk.originals / name
        if not disk.is_folder(path) and file_digest(path) in judged:
            disk.unlink(path)
        else:
            changed.append(name)
    return changed


def discard(disk: Disk, desk: Desk) -> None:
    """Step 10: bench first, then the claim, each made rubbish by one rename before it is emptied.

    Emptied in place, a bench that was cut half-way would look undecided again.
    """
    for folder in (desk.landing, desk.bench, desk.claim):
        if disk.is_folder(folder):
            rubbish = folder.with_name(f"{folder.name}.done")
            disk.rename_new(folder, rubbish)
            disk.sync(folder.parent)
            disk.remove_tree(rubbish)
