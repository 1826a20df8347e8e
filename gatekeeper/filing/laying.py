"""Step 5: the bytes that were read are laid into the job folder, and the companions beside them.

What is done already is kept: every function may be called again after a crash at any of its lines.
"""

from __future__ import annotations

import errno
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.filing.claim import claimed_companions
from gatekeeper.filing.copying import copy_file, same_file
from gatekeeper.filing.folder import digest_in, is_ours, newest_earlier
from gatekeeper.filing.names import numbered

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict_document import VerdictRecord


@dataclass(frozen=True, slots=True)
class OnBench:
    """A job folder ready to be judged: what it held before, and the new files' names in it."""

    earlier: VerdictRecord | None
    sheet_name: str
    others: tuple[str, ...]  # companions, and sheets that no verdict names
    is_damaged: bool  # its last verdict cannot be read

    @property
    def has_verdict(self) -> bool:
        """Whether the job's last verdict says which of the files are its sheets."""
        return self.earlier is not None and not self.is_damaged


def lay_in(
    disk: Disk,
    desk: Desk,
    content: bytes | None,
    sha256: str,
    is_litter: Callable[[str], bool] = lambda _: False,
) -> OnBench:
    """Step 5: write the bytes that were read, bring the companions; what is done already is kept.

    Parameters
    ----------
    content : None for a sheet that is brought as it is, too large or not to be read
    sha256 : of the content; empty where that is None
    is_litter : whether a file manager left a name; such files stay, and are no companions
    """
    earlier, is_damaged = newest_earlier(disk, desk.job)
    known = {sheet.name for sheet in earlier.verdict.sheets} if earlier else set()
    if content is None:
        sheet_name = _bring_sheet(disk, desk, known)
    else:
        sheet_name = _write_sheet(disk, desk, content, sha256, known)
    for companion in claimed_companions(disk, desk):
        _bring_companion(disk, desk, companion)
    disk.sync(desk.job, desk.originals)
    others = tuple(
        name
        for name in disk.names(desk.job)
        if name not in known and name != sheet_name and not is_ours(name) and not is_litter(name)
    )
    return OnBench(earlier, sheet_name, others, is_damaged)


def free_names(name: str) -> Iterator[str]:
    """Yield the names under which a file may lie in a job folder, the first choice first."""
    own = f"dropped-{name}" if is_ours(name) else name
    number = 1
    while True:
        yield numbered(own, number)
        number += 1


def _write_sheet(disk: Disk, desk: Desk, content: bytes, sha256: str, known: set[str]) -> str:
    """Write the sheet under the first free name; a new name with its bytes is this very sheet."""
    names = free_names(desk.ticket.sheet.own_name)
    while True:
        name = next(names)
        if name in known:
            continue
        path = desk.job / name
        if disk.lstat(path) is None:
            temporary = desk.bench / "tmp-sheet"
            disk.unlink(temporary)
            disk.write_new(temporary, content)
            disk.rename_new(temporary, path)
            return name
        if digest_in(desk.job, name) == sha256:
            return name


def _bring_sheet(disk: Disk, desk: Desk, known: set[str]) -> str:
    """Bring a sheet as it is, by a second name for the same file; the first goes in step 10."""
    source = desk.sheet_in_claim
    is_gone = disk.lstat(source) is None
    names = free_names(desk.ticket.sheet.own_name)
    while True:
        name = next(names)
        path = desk.job / name
        if name in known:
            continue
        if is_gone or same_file(disk, source, path):
            return name
        if disk.lstat(path) is None:
            disk.sync_file(source)
            _link_or_copy(disk, desk, source, path)
            return name


def _link_or_copy(disk: Disk, desk: Desk, source: Path, target: Path) -> None:
    try:
        disk.link_new(source, target)
    except FileExistsError:
        raise
    except OSError:  # another filesystem, or one without links, or somebody else's file
        _copy(disk, desk, source, target)


def _copy(disk: Disk, desk: Desk, source: Path, target: Path) -> None:
    temporary = desk.bench / "tmp-copy"
    disk.unlink(temporary)
    copy_file(disk, source, temporary)
    disk.rename_new(temporary, target)


def _bring_companion(disk: Disk, desk: Desk, name: str) -> None:
    """Bring a companion under the first free name.

    Across filesystems it is copied, and the original stays in the claim until step 10 has compared
    the two; a copy made before a crash is known by its bytes.
    """
    source = desk.originals / name
    disk.sync_file(source)
    names = free_names(name)
    while True:
        target = desk.job / next(names)
        if disk.lstat(target) is None:
            _rename_or_copy(disk, desk, source, target)
            return
        if _is_elsewhere(disk, desk) and same_file(disk, source, target):
            return
        if _is_one_file(disk, source, target):
            disk.sync(desk.job)
            disk.unlink(source)  # renamed by link, then unlink, and cut between the two
            return


def _rename_or_copy(disk: Disk, desk: Desk, source: Path, target: Path) -> None:
    try:
        disk.rename_new(source, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _copy(disk, desk, source, target)


def _is_elsewhere(disk: Disk, desk: Desk) -> bool:
    """Whether claim and bench lie on different filesystems."""
    one, other = disk.lstat(desk.claim), disk.lstat(desk.bench)
    return one is not None and other is not None and one.st_dev != other.st_dev


def _is_one_file(disk: Disk, first: Path, second: Path) -> bool:
    one, other = disk.lstat(first), disk.lstat(second)
    if one is None or other is None:
        return False
    return (one.st_dev, one.st_ino) == (other.st_dev, other.st_ino)
