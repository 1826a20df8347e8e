"""Folders in which nothing stirs: what was found there stands until an entry changes.

A drop folder may hold thousands of files that wait for somebody. Looking each of them up again at
every rescan would keep a processor busy all night, so a folder whose entries are all as they were
is answered from memory. Memory only ever says what waits: nothing is judged from it.

On a share the entries are looked at each time. On a disk of this machine the folder's own mark is
enough for a while: its times show every name that came or went, and the kernel tells of a file
that was closed after writing. What shows in neither is seen at the next look at the entries, which
is never far: writing through a map, a cut by `truncate`, a link of other folders to the same file,
and what the kernel could not keep for us.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.filing.names import caseless

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from gatekeeper.rounds.outlook import Waiting

AGAIN_S = 3_600.0
"""Everything is looked up again after so long (s): another gate may have filed the job."""

LOOKED_AGAIN_S = 300.0
"""The entries are looked at again after so long (s), whatever the folder's mark says."""

SURE_S = 1.0
"""A mark counts once two looks so far apart (s) have met it: within one tick of the clock by which
a filesystem goes, names may change and the times of their folder not."""

Entries = dict[str, tuple[int, ...]]
"""By each name in a folder all by which a change would show, its mode first."""


@dataclass(frozen=True, slots=True)
class Mark:
    """What a folder shows without a look at its entries."""

    heard: object  # what was heard from it so far; another value for each time
    device: int
    inode: int
    modified_ns: int
    changed_ns: int


def mark_of(folder: Path, heard: object) -> Mark | None:
    """Return a folder's mark, None where nobody listens to it.

    Raises
    ------
    OSError : it cannot be looked at
    """
    if heard is None:
        return None
    found = folder.stat()
    return Mark(heard, found.st_dev, found.st_ino, found.st_mtime_ns, found.st_ctime_ns)


def has_folders(entries: Entries) -> bool:
    """Whether a folder holds others: its own mark does not tell what is changed in them."""
    return any(stat.S_ISDIR(shown[0]) and name[0] != "." for name, shown in entries.items())


def entries_of(folder: Path, *, with_folders: bool) -> Entries:
    """Look at the names in a folder.

    Parameters
    ----------
    with_folders : whether what lies in the folders inside counts as well

    Raises
    ------
    OSError : it cannot be read; then nothing is known of it
    """
    found: Entries = {}
    with os.scandir(folder) as entries:
        for entry in entries:
            try:
                is_folder = entry.is_dir(follow_symlinks=False)
                found[entry.name] = _shown(entry.stat(follow_symlinks=False))
            except FileNotFoundError:
                continue
            if with_folders and is_folder and not entry.name.startswith("."):
                found |= _inside(entry)
    return found


def _inside(folder: os.DirEntry[str]) -> Entries:
    """Look at the names in a folder within; what cannot be read is shown by its error."""
    try:
        with os.scandir(folder.path) as entries:
            return {
                f"{folder.name}/{entry.name}": _shown(entry.stat(follow_symlinks=False))
                for entry in entries
            }
    except OSError as error:  # one such folder must not keep its neighbours from being looked at
        return {f"{folder.name}/": (-(error.errno or 1),)}


def _shown(found: os.stat_result) -> tuple[int, ...]:
    # The size and times of a folder say nothing beyond the names in it.
    if stat.S_ISDIR(found.st_mode):
        return (found.st_mode,)
    return found.st_mode, found.st_size, found.st_mtime_ns, found.st_ino


@dataclass(slots=True)
class _Still:
    entries: Entries
    rules: object  # as they were; other rules may tell sheets otherwise
    waiting: tuple[Waiting, ...]
    until: float
    mark: Mark | None
    marked: float  # when the mark was met first
    looked: float  # when the entries were looked at last
    is_told: bool  # whether a change of an entry shows in the mark

    def look(self, mark: Mark | None, now: float) -> None:
        """Note that the entries were looked at and are as they were."""
        if mark != self.mark:
            self.mark, self.marked = mark, now
        self.looked = now

    def is_unstirred(self, mark: Mark | None, now: float) -> bool:
        """Whether the mark alone says that the entries are as they were."""
        is_sure = self.is_told and self.looked - self.marked >= SURE_S
        return is_sure and mark == self.mark is not None and now - self.looked < LOOKED_AGAIN_S


@dataclass
class Stillness:
    """Remembers folders in which nothing stirred, and companions whose job nobody knew."""

    _folders: dict[Path, _Still] = field(default_factory=dict)
    _jobless: dict[Path, dict[str, float]] = field(default_factory=dict)

    def unstirred(
        self, folder: Path, mark: Mark | None, rules: object, now: float
    ) -> tuple[Waiting, ...] | None:
        """Return what waits in a folder if its mark alone says that nothing has stirred there."""
        known = self._known(folder, rules, now)
        return known.waiting if known and known.is_unstirred(mark, now) else None

    def waiting_in(
        self, folder: Path, entries: Entries, rules: object, now: float, mark: Mark | None = None
    ) -> tuple[Waiting, ...] | None:
        """Return what waits in a folder if its entries are as they were, else None.

        Parameters
        ----------
        mark : as it was before the entries were looked at
        """
        known = self._known(folder, rules, now)
        if known is None or known.entries != entries:
            return None
        known.look(mark, now)
        return known.waiting

    def _known(self, folder: Path, rules: object, now: float) -> _Still | None:
        known = self._folders.get(folder)
        is_good = known and now <= known.until and known.rules is rules
        return known if is_good else None

    def keep(
        self,
        folder: Path,
        entries: Entries,
        rules: object,
        waiting: Collection[Waiting],
        now: float,
        *,
        mark: Mark | None = None,
        is_told: bool = False,
    ) -> None:
        """Remember a folder, unless something in it is on its way.

        Parameters
        ----------
        mark : as it was before the entries were looked at
        is_told : whether a change of an entry shows in the mark; not on a share
        """
        if any(entry.due_s is not None for entry in waiting):
            self._folders.pop(folder, None)
        else:
            until = now + AGAIN_S
            self._folders[folder] = _Still(
                entries, rules, tuple(waiting), until, mark, now, now, is_told
            )

    def forget(self, folder: Path) -> None:
        """Look at all of a folder again, for something was taken from it or went wrong there."""
        self._folders.pop(folder, None)

    def forget_all(self) -> None:
        """Look at everything again, for the history may know any job now."""
        self._folders.clear()
        self._jobless.clear()

    def is_jobless(self, folder: Path, stem: str, now: float) -> bool:
        """Whether the job of a companion was looked for lately, and nobody knew it."""
        return now < self._jobless.get(folder, {}).get(caseless(stem), float("-inf"))

    def note_jobless(self, folder: Path, stem: str, now: float) -> None:
        """Remember that nobody knows the job of a companion."""
        self._jobless.setdefault(folder, {})[caseless(stem)] = now + AGAIN_S

    def filed(self, names: Collection[str]) -> None:
        """Forget what was said of companions whose jobs have been filed since.

        Parameters
        ----------
        names : of jobs, and stems of their sheets
        """
        folded = {caseless(name) for name in names}
        for folder, stems in self._jobless.items():
            for stem in folded & stems.keys():
                del stems[stem]
                self._folders.pop(folder, None)

    def forget_stems(self, folder: Path, present: Collection[str]) -> None:
        """Forget companions that have gone."""
        folded = {caseless(stem) for stem in present}
        stems = self._jobless.get(folder, {})
        for stem in stems.keys() - folded:
            del stems[stem]
