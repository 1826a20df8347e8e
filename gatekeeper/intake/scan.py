"""What lies in a drop folder: groups of a sheet and its companions. Scans are the truth.

A group is a stem: every file whose name without its last ending is the same. A dropped folder is a
group of its own.
"""

from __future__ import annotations

import fnmatch
import stat
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from gatekeeper.filing.names import caseless
from gatekeeper.filing.tickets import Identity, identity_of
from gatekeeper.wording import listing

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Iterator
    from pathlib import Path


class IsSheet(Protocol):
    """Tells a sheet from a companion by name and first bytes."""

    def __call__(self, name: str, head: bytes) -> bool:
        """Whether the file is a sheet."""
        ...


@dataclass(frozen=True, slots=True)
class Odd:
    """What is left alone and shown: a link, a pipe, a folder in a folder, an unreadable name."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Group:
    """Files that belong together because of their stem or because they came in one folder."""

    key: str  # of the drop folder's scan: stable while the files stay
    hint: str  # stem or folder name: names the job where the sheet does not
    files: tuple[Identity, ...]
    in_folder: bool = False
    clashes: bool = False  # stems that differ only in case or Unicode form

    @property
    def size(self) -> int:
        """Bytes of all its files."""
        return sum(file.size for file in self.files)

    @property
    def emptiness(self) -> str:
        """That files of it are empty, in words; no words where none is."""
        empty = [file.own_name for file in self.files if file.size == 0]
        if empty and len(self.files) == 1:
            return "the file is empty"
        return f"empty: {listing(empty, most=3)}" if empty else ""


@dataclass(frozen=True, slots=True)
class Listing:
    """One look at a drop folder."""

    groups: tuple[Group, ...]
    odd: tuple[Odd, ...]


def is_litter(name: str, patterns: Iterable[str]) -> bool:
    """Whether a name is an editor's, a system's or a transfer's and never a sheet."""
    return any(fnmatch.fnmatchcase(name.casefold(), pattern.casefold()) for pattern in patterns)


def stem_of(name: str) -> str:
    """Return the name without its last ending."""
    stem, dot, _ = name.rpartition(".")
    return stem if dot and stem else name


def list_drop_folder(
    folder: Path, litter: Iterable[str], *, with_folders: bool, has_inodes: bool = True
) -> Listing:
    """Return what lies in a drop folder, without opening anything.

    Parameters
    ----------
    with_folders : whether a folder inside is a job's; in drop/ itself folders are the workflows'
    has_inodes : whether a file keeps its inode number; on some shares it does not
    """
    patterns = tuple(litter)
    files: list[Identity] = []
    groups: list[Group] = []
    odd: list[Odd] = []
    for name, found in _entries(folder, odd):
        if is_litter(name, patterns):
            continue
        if stat.S_ISREG(found.st_mode):
            files.append(identity_of(name, found, has_inode=has_inodes))
        elif stat.S_ISDIR(found.st_mode):
            if with_folders:
                inner = _plain_files(folder, name, patterns, odd)
                members = [identity_of(*entry, has_inode=has_inodes) for entry in inner]
                groups += [Group(f"{name}/", name, tuple(members), in_folder=True)] * bool(members)
        else:
            odd.append(Odd(name, "is not a plain file, and is left where it is"))
    return Listing((*_stems(files), *groups), tuple(odd))


def _entries(folder: Path, odd: list[Odd]) -> Iterator[tuple[str, os.stat_result]]:
    for name in sorted(entry.name for entry in folder.iterdir()):
        try:
            yield name, (folder / name).lstat()
        except FileNotFoundError:
            continue  # gone again between listing and looking
        except OSError as error:
            odd.append(Odd(name, f"cannot be looked at: {error.strerror}"))


def _stems(files: list[Identity]) -> Iterator[Group]:
    by_stem: dict[str, list[Identity]] = {}
    for file in files:
        by_stem.setdefault(caseless(stem_of(file.name)), []).append(file)
    for key, members in by_stem.items():
        stems = {stem_of(file.name) for file in members}
        yield Group(key, stem_of(members[0].name), tuple(members), clashes=len(stems) > 1)


def _plain_files(
    folder: Path, name: str, litter: tuple[str, ...], odd: list[Odd]
) -> list[tuple[str, os.stat_result]]:
    """Return the files of a dropped folder, none while anything else lies in it."""
    found: list[tuple[str, os.stat_result]] = []
    try:
        for inner, entry in _entries(folder / name, odd):
            if is_litter(inner, litter):
                continue
            if not stat.S_ISREG(entry.st_mode):
                odd.append(Odd(f"{name}/{inner}", "is not a plain file: the folder waits"))
                return []
            found.append((f"{name}/{inner}", entry))
    except OSError as error:
        odd.append(Odd(name, f"cannot be looked into: {error.strerror}"))
        return []
    return found
