"""Steps 7 and 8: the verdict is written, and the job folder goes where the verdict says."""

from __future__ import annotations

import contextlib
import errno
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import JOB_FILE, noted_job
from gatekeeper.filing.claim import make_if_absent, make_own
from gatekeeper.filing.copying import copy_tree
from gatekeeper.filing.desk import DONE
from gatekeeper.filing.folder import REPORT, VERDICT, sha256_of, valid_record
from gatekeeper.verdict import Decision
from gatekeeper.verdict_document import to_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict import Verdict


def write_decision(disk: Disk, desk: Desk, verdict: Verdict, report: str) -> None:
    """Step 7: the report, then the verdict with the report's digest: its rename decides the job.

    Both names are flushed at the beginning of step 8, because a kill may come between.
    """
    content = report.encode()
    _put(disk, desk, REPORT, content)
    _put(disk, desk, VERDICT, to_bytes(verdict, report_sha256=sha256_of(content)))


def _put(disk: Disk, desk: Desk, name: str, content: bytes) -> None:
    temporary = desk.bench / f"tmp-{name}"
    disk.unlink(temporary)
    disk.write_new(temporary, content)
    disk.rename_new(temporary, desk.job / name)


def file_job(disk: Disk, desk: Desk) -> Path:
    """Step 8: take the decided job folder to approved or held, and return where it stands.

    Where it goes is read from the verdict on the bench, never handed in: location follows verdict.
    """
    record = valid_record(disk, desk.job)
    if record is None or record.verdict.ticket != desk.ticket.id:
        raise trouble.undecided(desk.job)
    name = noted_job(disk, desk)
    if name is None:
        raise trouble.damaged(JOB_FILE, desk.claim)
    is_approved = record.verdict.decision is Decision.APPROVED
    target = name.target(desk.roots.approved if is_approved else desk.roots.held)
    _flush_decision(disk, desk)
    make_if_absent(disk, desk.roots, target.parent)
    try:
        _move(disk, desk, target)
    except FileExistsError as error:
        raise trouble.taken(target) from error
    return target


def _flush_decision(disk: Disk, desk: Desk) -> None:
    """Make the decision durable; where that fails it is taken back, and made again."""
    try:
        disk.sync(desk.job)
    except OSError:
        with contextlib.suppress(OSError):
            disk.unlink(desk.job / VERDICT)
        raise


def _move(disk: Disk, desk: Desk, target: Path) -> None:
    try:
        disk.rename_new(desk.job, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _move_across(disk, desk, target)
        return
    flush_filed(disk, desk, target)


def flush_filed(disk: Disk, desk: Desk, filed: Path) -> None:
    """Make the filing durable. Nothing that it replaces is removed before."""
    left = [folder for folder in (desk.bench, desk.landing) if disk.is_folder(folder)]
    disk.sync(filed.parent, *left)


def _move_across(disk: Disk, desk: Desk, target: Path) -> None:
    """Copy to a landing on the target's filesystem, rename there, only then remove the source."""
    make_own(disk, desk.roots, desk.landing)
    try:
        copy_tree(disk, desk.job, desk.landed)
        disk.sync(desk.landing)
        disk.rename_new(desk.landed, target)
    except OSError:
        with contextlib.suppress(OSError):
            delete_landing(disk, desk)  # a full disk is not to be kept full by half a copy
        raise
    flush_filed(disk, desk, target)
    discard_job_on_bench(disk, desk)


def discard_job_on_bench(disk: Disk, desk: Desk) -> None:
    """Make the filed job's copy on the bench rubbish by one rename, then delete it."""
    rubbish = desk.bench / f"tmp-job{DONE}"
    if disk.is_folder(desk.job):
        disk.rename_new(desk.job, rubbish)
        disk.sync(desk.bench)
    disk.remove_tree(rubbish)


def delete_landing(disk: Disk, desk: Desk) -> None:
    """Throw away a half-written copy on the target's filesystem, once a rename made it rubbish."""
    rubbish = desk.landed.with_name(desk.landed.name + DONE)
    disk.remove_tree(rubbish)
    if disk.is_folder(desk.landed):
        disk.rename_new(desk.landed, rubbish)
        disk.sync(desk.landing)
    disk.remove_tree(rubbish)
