"""Approved job folders of long ago, moved to archive/<year>/<month>/<workflow>/<job>.

Moved    only whole folders whose verdict says approved, each by one rename; held ones never. A
         crash before the rename leaves the folder where it was, after it where it belongs.
Not yet  a folder whose ticket is still in work: its next start looks for it where it filed it.
Where    the archive carries the site's mark, like the other roots: an empty mount point is not it.
Across   filesystems the copy is made and flushed beside its target, takes its name by one rename,
         and only then is the original made rubbish. A crash in between leaves both, and the next
         run knows the copy by its ticket and removes the original.
"""

from __future__ import annotations

import errno
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING

from gatekeeper.filing.copying import copy_tree
from gatekeeper.filing.desk import WORK
from gatekeeper.filing.folder import VERDICT, read_record, valid_record
from gatekeeper.filing.names import numbered
from gatekeeper.filing.online import require_marked
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import tzinfo
    from pathlib import Path

    from gatekeeper.filing.desk import Roots
    from gatekeeper.filing.disk import Disk
    from gatekeeper.verdict import Verdict

RUBBISH = ".done"


@dataclass(frozen=True, slots=True)
class Archived:
    """What a run has moved, and what it has left with a reason."""

    moved: tuple[Path, ...]
    left: tuple[str, ...]


class Archive:
    """The folders of approved jobs, and where they go in the end."""

    def __init__(self, disk: Disk, roots: Roots, archive: Path, zone: tzinfo) -> None:
        self._disk = disk
        self._roots = roots
        self._archive = archive
        self._zone = zone

    def move_older(
        self, before: datetime, *, should_stop: Callable[[], bool] = lambda: False
    ) -> Archived:
        """Move the approved jobs whose newest sheet arrived before a moment.

        Raises
        ------
        OfflineError : the archive is not this site's, or its share is away
        OSError : the disk is at fault; what was moved is moved, the rest is where it was
        """
        require_marked(self._disk, self._archive, self._roots.mark)
        in_work = set(self._tickets())
        moved: list[Path] = []
        left: list[str] = []
        for folder in self._job_folders():
            if should_stop():
                break
            record = read_record(self._disk, folder / VERDICT)
            if record is None or datetime.fromisoformat(record.verdict.arrived) >= before:
                continue
            why = self._why_not(folder, record.verdict, in_work)
            if why:
                left.append(f"{folder}: {why}")
            else:
                moved.append(self._move(folder, record.verdict))
        return Archived(tuple(moved), tuple(left))

    def _why_not(self, folder: Path, verdict: Verdict, in_work: set[str]) -> str:
        if verdict.decision is not Decision.APPROVED:
            return "its verdict is not approved"
        if verdict.ticket in in_work:
            return "its ticket is still in work"
        if valid_record(self._disk, folder) is None:
            return "its files are not those of its verdict"
        return ""

    def _job_folders(self) -> Iterator[Path]:
        for shelf in self._folders(self._roots.approved):
            yield from self._folders(shelf)

    def _folders(self, folder: Path) -> Iterator[Path]:
        for name in self._disk.names(folder):
            if name[0] != "." and self._disk.is_folder(folder / name):
                yield folder / name

    def _tickets(self) -> Iterator[str]:
        """Yield the ids of all tickets in work, those of other gates too."""
        drop = self._roots.drop
        for folder in (drop, *self._folders(drop)):
            for gate in self._folders(folder / WORK):
                yield from self._disk.names(gate)

    def _move(self, folder: Path, verdict: Verdict) -> Path:
        arrived = datetime.fromisoformat(verdict.arrived).astimezone(self._zone)
        shelf = self._archive
        for name in (f"{arrived:%Y}", f"{arrived:%m}", folder.parent.name):
            shelf /= name
            self._make(shelf)
        for number in count(1):
            target = shelf / numbered(folder.name, number)
            if self._is_same(target, verdict):
                self._discard(folder)  # copied before a crash
                return target
            try:
                self._rename(folder, target)
            except FileExistsError:
                continue  # another job of this number went this way in the same month
            return target
        raise AssertionError  # pragma: no cover -- there is always a further number

    def _make(self, folder: Path) -> None:
        if not self._disk.is_folder(folder):
            self._disk.make_folder(folder)
            self._disk.sync(folder.parent)

    def _is_same(self, target: Path, verdict: Verdict) -> bool:
        there = read_record(self._disk, target / VERDICT)
        return there is not None and there.verdict.ticket == verdict.ticket

    def _rename(self, folder: Path, target: Path) -> None:
        try:
            self._disk.rename_new(folder, target)
        except OSError as error:
            if error.errno != errno.EXDEV:
                raise
            self._copy(folder, target)
            return
        self._disk.sync(target.parent)
        self._disk.sync(folder.parent)

    def _copy(self, folder: Path, target: Path) -> None:
        landing = self._archive / WORK / f"{self._roots.gate}.landing"
        self._make(landing.parent)
        self._disk.remove_tree(landing)  # a half-made copy is never continued
        copy_tree(self._disk, folder, landing)
        self._disk.rename_new(landing, target)
        self._disk.sync(target.parent)
        self._discard(folder)

    def _discard(self, folder: Path) -> None:
        """Make the original rubbish by one rename: emptied in place it would look like a job."""
        self._make(self._roots.landings.parent)
        self._make(self._roots.landings)
        rubbish = self._roots.landings / f"archived-{folder.parent.name}-{folder.name}{RUBBISH}"
        self._disk.remove_tree(rubbish)
        self._disk.rename_new(folder, rubbish)
        self._disk.sync(folder.parent)
        self._disk.remove_tree(rubbish)
