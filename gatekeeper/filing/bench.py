"""Steps 4 and 5: the job folder comes to the bench, its old verdict is numbered, files are laid in.

Every function may be called again after a crash at any of its lines.
"""

from __future__ import annotations

import errno
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.claim import claimed_companions
from gatekeeper.filing.copying import copy_file, copy_tree, file_digest, same_file
from gatekeeper.filing.folder import (
    REPORT,
    VERDICT,
    is_ours,
    newest_earlier,
    read_record,
    verdict_numbers,
)
from gatekeeper.filing.names import numbered

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict_document import VerdictRecord


@dataclass(frozen=True, slots=True)
class OnBench:
    """A job folder ready to be judged: what it held before, and the new files' names in it."""

    earlier: VerdictRecord | None
    sheet_name: str
    companions: tuple[str, ...]


def take_to_bench(disk: Disk, desk: Desk, name: JobName) -> None:
    """Step 4: take the existing job folder by one rename, or make one; number its old verdict."""
    if not disk.is_folder(desk.bench):
        disk.make_folder(desk.bench)
        disk.sync(desk.bench.parent)
    _throw_away_temporaries(disk, desk)
    if not disk.is_folder(desk.job):
        _take_or_make(disk, desk, name)
    _number_old(disk, desk)


def _take_or_make(disk: Disk, desk: Desk, name: JobName) -> None:
    if disk.is_folder(desk.landing / "taken"):
        _bring_over(disk, desk)
        return
    places = [
        name.target(root)
        for root in (desk.roots.approved, desk.roots.held)
        if disk.is_folder(name.target(root))
    ]
    if len(places) > 1:
        raise RoomError(
            f"the job {name.job!r} stands under approved and under held",
            where=" and ".join(map(str, places)),
            do="move one of the two folders away by hand; the job waits until then",
        )
    if not places:
        disk.make_folder(desk.job)
        disk.sync(desk.bench)
        return
    try:
        disk.rename_new(places[0], desk.job)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _take_across(disk, desk, places[0])
        return
    disk.sync(desk.bench)
    disk.sync(places[0].parent)


def _take_across(disk: Disk, desk: Desk, place: Path) -> None:
    """Take a folder from another filesystem: out of approved at once, then over to the bench."""
    if not disk.is_folder(desk.landing):
        disk.make_folder(desk.landing)
        disk.sync(desk.landing.parent)
    disk.rename_new(place, desk.landing / "taken")
    disk.sync(desk.landing)
    disk.sync(place.parent)
    _bring_over(disk, desk)


def _bring_over(disk: Disk, desk: Desk) -> None:
    copy_tree(disk, desk.landing / "taken", desk.bench / "tmp-taken")
    disk.rename_new(desk.bench / "tmp-taken", desk.job)
    disk.sync(desk.bench)
    disk.remove_tree(desk.landing / "taken")


def _throw_away_temporaries(disk: Disk, desk: Desk) -> None:
    for entry in disk.names(desk.bench):
        if entry != "job":
            path = desk.bench / entry
            if disk.is_folder(path):
                disk.remove_tree(path)
            else:
                disk.unlink(path)


def _number_old(disk: Disk, desk: Desk) -> None:
    """Give the old verdict, then its report, a number; a report without a verdict is ours, cut.

    Verdict first: a crash between the two leaves `report.txt` with the digest that the numbered
    verdict names.
    """
    verdict, report = desk.job / VERDICT, desk.job / REPORT
    changed = False
    if disk.lstat(verdict) is not None:
        record = read_record(disk, verdict)
        if record and record.verdict.ticket == desk.ticket.id:
            disk.unlink(verdict)  # ours, but its digests do not fit: it is written again
        else:
            number = max(verdict_numbers(disk, desk.job), default=0) + 1
            disk.rename_new(verdict, desk.job / f"verdict.{number}.json")
        changed = True
    if disk.lstat(report) is not None:
        old = newest_earlier(disk, desk.job)
        digest = file_digest(report)
        number = max(verdict_numbers(disk, desk.job), default=0)
        if old and old.report_sha256 == digest:
            disk.rename_new(report, desk.job / f"report.{number}.txt")
        else:
            disk.unlink(report)
        changed = True
    if changed:
        disk.sync(desk.job)


def lay_in(disk: Disk, desk: Desk, content: bytes | None, sha256: str) -> OnBench:
    """Step 5: write the bytes that were read, bring the companions; what is done already is kept.

    A sheet that was not read (too large, or reading it ended the program) is brought as it is.
    """
    earlier = newest_earlier(disk, desk.job)
    sheet_name = _lay_sheet(disk, desk, content, sha256, earlier)
    for companion in claimed_companions(disk, desk):
        _lay_companion(disk, desk, companion)
    disk.sync(desk.job)
    disk.sync(desk.originals)
    sheets = (
        {sheet_name} | {sheet.name for sheet in earlier.verdict.sheets} if earlier else {sheet_name}
    )
    companions = tuple(
        entry for entry in disk.names(desk.job) if entry not in sheets and not is_ours(entry)
    )
    return OnBench(earlier, sheet_name, companions)


def _lay_sheet(
    disk: Disk, desk: Desk, content: bytes | None, sha256: str, earlier: VerdictRecord | None
) -> str:
    """Lay the sheet in under the first free name; a new name with its bytes is this very sheet."""
    judged = {sheet.name for sheet in earlier.verdict.sheets} if earlier else set()
    temporary = desk.bench / "tmp-sheet"
    number = 1
    while True:
        name = numbered(desk.ticket.sheet.own_name, number)
        number += 1
        if name in judged or is_ours(name):
            continue
        path = desk.job / name
        if disk.lstat(path) is None:
            if content is None:
                _bring(disk, desk, desk.sheet_in_claim, path)
            else:
                disk.unlink(temporary)
                disk.write_new(temporary, content)
                disk.rename_new(temporary, path)
            return name
        if not disk.is_folder(path) and file_digest(path) == sha256:
            return name


def _lay_companion(disk: Disk, desk: Desk, name: str) -> None:
    """Bring a companion under the first free name.

    Across filesystems a crash between copy and unlink leaves it twice; the copy is then known by
    its bytes.
    """
    source = desk.originals / name
    number = 1
    while True:
        target = desk.job / numbered(name, number)
        number += 1
        if is_ours(target.name):
            continue
        if disk.lstat(target) is None:
            _bring(disk, desk, source, target)
            return
        if _is_elsewhere(disk, desk) and same_file(disk, source, target):
            disk.unlink(source)
            return


def _is_elsewhere(disk: Disk, desk: Desk) -> bool:
    """Whether claim and bench lie on different filesystems."""
    one, other = disk.lstat(desk.claim), disk.lstat(desk.bench)
    return one is not None and other is not None and one.st_dev != other.st_dev


def _bring(disk: Disk, desk: Desk, source: Path, target: Path) -> None:
    """Rename into the job folder, or copy, flush and then remove where a rename cannot go."""
    try:
        disk.rename_new(source, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        temporary = desk.bench / "tmp-copy"
        disk.unlink(temporary)
        copy_file(disk, source, temporary)
        disk.rename_new(temporary, target)
        disk.sync(desk.job)
        disk.unlink(source)
