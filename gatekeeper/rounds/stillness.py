"""Folders in which nothing stirs: what was found there stands until an entry changes.

A drop folder may hold thousands of files that wait for somebody. Looking each of them up again at
every rescan would keep a processor busy all night, so a folder whose entries are all as they were
is answered from memory. That the entries are looked at each time is what makes it safe: no event
is trusted.
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

Entries = tuple[tuple[object, ...], ...]


def entries_of(folder: Path, *, with_folders: bool) -> Entries:
    """Return the names in a folder, with all by which a change would show.

    Parameters
    ----------
    with_folders : whether what lies in the folders inside counts as well

    Raises
    ------
    OSError : it cannot be read; then nothing is known of it
    """
    found: list[tuple[object, ...]] = []
    with os.scandir(folder) as entries:
        for entry in entries:
            try:
                is_folder = entry.is_dir(follow_symlinks=False)
                found.append(_shown(entry.name, entry.stat(follow_symlinks=False)))
            except FileNotFoundError:
                continue
            if with_folders and is_folder and not entry.name.startswith("."):
                found += _inside(entry)
    return tuple(sorted(found, key=lambda entry: str(entry[0])))


def _inside(folder: os.DirEntry[str]) -> list[tuple[object, ...]]:
    with os.scandir(folder.path) as entries:
        return [
            _shown(f"{folder.name}/{entry.name}", entry.stat(follow_symlinks=False))
            for entry in entries
        ]


def _shown(name: str, found: os.stat_result) -> tuple[object, ...]:
    # The size and times of a folder say nothing beyond the names in it.
    if stat.S_ISDIR(found.st_mode):
        return name, found.st_mode
    return name, found.st_mode, found.st_size, found.st_mtime_ns, found.st_ino


@dataclass(frozen=True)
class _Still:
    entries: Entries
    rules: object  # as they were; other rules may tell sheets otherwise
    waiting: tuple[Waiting, ...]
    until: float


@dataclass
class Stillness:
    """Remembers folders in which nothing stirred, and companions whose job nobody knew."""

    _folders: dict[Path, _Still] = field(default_factory=dict)
    _jobless: dict[Path, dict[str, float]] = field(default_factory=dict)

    def waiting_in(
        self, folder: Path, entries: Entries, rules: object, now: float
    ) -> tuple[Waiting, ...] | None:
        """Return what waits in a folder if nothing has stirred there, else None."""
        known = self._folders.get(folder)
        if known is None or now > known.until or known.rules is not rules:
            return None
        return known.waiting if known.entries == entries else None

    def keep(
        self,
        folder: Path,
        entries: Entries,
        rules: object,
        waiting: Collection[Waiting],
        now: float,
    ) -> None:
        """Remember a folder, unless something in it is on its way."""
        if any(entry.due_s is not None for entry in waiting):
            self._folders.pop(folder, None)
        else:
            self._folders[folder] = _Still(entries, rules, tuple(waiting), now + AGAIN_S)

    def forget(self, folder: Path) -> None:
        """Look at all of a folder again, for something was taken from it or went wrong there."""
        self._folders.pop(folder, None)

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
