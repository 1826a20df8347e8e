"""Step 4: the job folder comes to the bench, and its old verdict and report are numbered.

Every function may be called again after a crash at any of its lines.
"""

from __future__ import annotations

import errno
import stat
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.claim import make_own
from gatekeeper.filing.copying import copy_tree, file_digest, same_file
from gatekeeper.filing.desk import DONE
from gatekeeper.filing.folder import (
    REPORT,
    VERDICT,
    digest_in,
    next_number,
    numbered_report,
    numbered_verdict,
    read_record,
    verdict_numbers,
)
from gatekeeper.filing.joblock import lock_job
from gatekeeper.filing.online import require_online

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk


def take_to_bench(disk: Disk, desk: Desk, name: JobName) -> None:
    """Step 4: take the existing job folder by one rename, or make one; number its old verdict."""
    make_own(disk, desk.roots, desk.bench)
    _throw_away_temporaries(disk, desk)
    if disk.is_folder(desk.job):
        _flush_taken(disk, desk, name)
    else:
        _take_or_make(disk, desk, name)
    _number_old(disk, desk)


def _throw_away_temporaries(disk: Disk, desk: Desk) -> None:
    for entry in disk.names(desk.bench):
        path = desk.bench / entry
        if entry != desk.job.name:
            if disk.is_folder(path):
                disk.remove_tree(path)
            else:
                disk.unlink(path)


def _flush_taken(disk: Disk, desk: Desk, name: JobName) -> None:
    """Make durable that the job lies on the bench: a kill may have come before the fsync."""
    shelves = [root / name.shelf for root in (desk.roots.approved, desk.roots.held)]
    disk.sync(desk.bench, *filter(disk.is_folder, shelves))
    _drop_taken(disk, desk)


def _take_or_make(disk: Disk, desk: Desk, name: JobName) -> None:
    if disk.is_folder(desk.taken):
        _bring_over(disk, desk)
        return
    lock_job(disk, desk, name)
    _require_ours(disk, desk)
    places = standing_folders(disk, desk, name)
    if len(places) > 1:
        raise trouble.in_two_places(name.job, places)
    if places:
        _require_latest(disk, desk, name, places[0])
        _take(disk, desk, places[0])
        return
    require_online(disk, desk.roots)  # an unmounted folder holds no job either
    disk.make_folder(desk.job)
    disk.sync(desk.bench)


def _require_latest(disk: Disk, desk: Desk, name: JobName, place: Path) -> None:
    """Raise where a later ticket was filed first, because this one had to wait for the room.

    The newest verdict of a job is that of its highest ticket, in its folder and in the history.
    """
    record = read_record(disk, place / VERDICT)
    if record and record.verdict.ticket == desk.ticket.id:
        raise trouble.not_ours(desk.ticket.id)  # another gate has filed it meanwhile
    if record and record.verdict.ticket > desk.ticket.id:
        raise trouble.overtaken(name.job, record.verdict.ticket)


def _require_ours(disk: Disk, desk: Desk) -> None:
    """Raise where another gate has taken the ticket over: this one was asleep."""
    if not disk.is_folder(desk.claim):
        raise trouble.not_ours(desk.ticket.id)


def standing_folders(disk: Disk, desk: Desk, name: JobName) -> list[Path]:
    """Return where the job's folder stands under approved and held.

    Raises
    ------
    RoomError : something else than a folder has its name
    """
    places = []
    for root in (desk.roots.approved, desk.roots.held):
        target = name.target(root)
        _, is_there = (_stands(disk, path) for path in (target.parent, target))
        if is_there:
            places.append(target)
    return places


def _stands(disk: Disk, path: Path) -> bool:
    found = disk.lstat(path)
    if found is not None and not stat.S_ISDIR(found.st_mode):
        raise trouble.not_a_folder(path)
    return found is not None


def last_verdict(disk: Disk, desk: Desk, name: JobName) -> Path | None:
    """Return the file of the job's last verdict before this ticket, None where it has none.

    Wherever the job is by now: still in its place, taken out of it, or on the bench.
    """
    for folder in (desk.job, desk.taken, *standing_folders(disk, desk, name)):
        if not disk.is_folder(folder):
            continue
        record = read_record(disk, folder / VERDICT)
        if record and record.verdict.ticket != desk.ticket.id:
            return folder / VERDICT
        numbers = verdict_numbers(disk, folder)
        return folder / numbered_verdict(numbers[-1]) if numbers else None
    return None


def _take(disk: Disk, desk: Desk, place: Path) -> None:
    try:
        disk.rename_new(place, desk.job)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _take_across(disk, desk, place)
        return
    if not disk.is_folder(desk.claim):  # this gate slept in just this moment: the folder goes back
        disk.rename_new(desk.job, place)
    _require_ours(disk, desk)
    disk.sync(desk.bench, place.parent)


def _take_across(disk: Disk, desk: Desk, place: Path) -> None:
    """Take a folder from another filesystem: out of approved at once, then over to the bench."""
    make_own(disk, desk.roots, desk.landing)
    disk.rename_new(place, desk.taken)
    disk.sync(desk.landing, place.parent)
    _bring_over(disk, desk)


def _bring_over(disk: Disk, desk: Desk) -> None:
    copy = desk.bench / "tmp-taken"
    copy_tree(disk, desk.taken, copy)
    disk.rename_new(copy, desk.job)
    disk.sync(desk.bench)
    _drop_taken(disk, desk)


def _drop_taken(disk: Disk, desk: Desk) -> None:
    """Throw away what was copied over, once a rename has made it rubbish."""
    rubbish = desk.taken.with_name(desk.taken.name + DONE)
    disk.remove_tree(rubbish)
    if disk.is_folder(desk.taken):
        disk.rename_new(desk.taken, rubbish)
        disk.sync(desk.landing)
        disk.remove_tree(rubbish)


def _number_old(disk: Disk, desk: Desk) -> None:
    """Give the old verdict, then its report, a number; a report without a verdict is ours, cut.

    Verdict first: a crash between the two leaves `report.txt` with the digest that the numbered
    verdict names.
    """
    verdict, report = desk.job / VERDICT, desk.job / REPORT
    if disk.lstat(verdict) is None and disk.lstat(report) is None:
        return
    if disk.lstat(verdict) is not None:
        _number_verdict(disk, desk, verdict)
    if disk.lstat(report) is not None:
        _number_report(disk, desk, report)
    disk.sync(desk.job)


def _number_verdict(disk: Disk, desk: Desk, verdict: Path) -> None:
    """Give the verdict the number that its report has already, or one behind all others."""
    record = read_record(disk, verdict)
    if record and record.verdict.ticket == desk.ticket.id:
        disk.unlink(verdict)  # ours, but its digests do not fit: it is written again
        return
    numbers = verdict_numbers(disk, desk.job)
    if numbers and same_file(disk, verdict, desk.job / numbered_verdict(numbers[-1])):
        disk.unlink(verdict)  # renamed by link, then unlink, and cut between the two
        return
    number = next_number(disk, desk.job)
    is_last_taken = number - 1 in numbers
    if record and not is_last_taken:  # a power cut may have undone only the verdict's renaming
        digest = digest_in(desk.job, numbered_report(number - 1))
        number -= digest == record.report_sha256
    disk.rename_new(verdict, desk.job / numbered_verdict(number))


def _number_report(disk: Disk, desk: Desk, report: Path) -> None:
    """Give the newest earlier verdict's report its number; any other is unfinished and goes."""
    numbers = verdict_numbers(disk, desk.job)
    place = desk.job / numbered_report(numbers[-1]) if numbers else None
    if place and disk.lstat(place) is None:
        record = read_record(disk, desk.job / numbered_verdict(numbers[-1]))
        # Of a verdict that cannot be read the report is kept: it may be all that is left of it.
        if record is None or file_digest(report) == record.report_sha256:
            disk.rename_new(report, place)
            return
    disk.unlink(report)
