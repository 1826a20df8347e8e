"""Digests, and copies across filesystems: written new, compared, flushed, never continued."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import PIECE, plain_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.filing.disk import Disk


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a plain file of any size."""
    digest = hashlib.sha256()
    with plain_file(path) as handle:
        for piece in _pieces(handle):
            digest.update(piece)
    return digest.hexdigest()


def _pieces(handle: int) -> Iterator[bytes]:
    while piece := os.read(handle, PIECE):
        yield piece


def same_file(disk: Disk, first: Path, second: Path) -> bool:
    """Whether two names are plain files of the same bytes."""
    one, other = disk.lstat(first), disk.lstat(second)
    if one is None or other is None:
        return False
    if not (stat.S_ISREG(one.st_mode) and stat.S_ISREG(other.st_mode)):
        return False
    if os.path.samestat(one, other):
        return True
    return one.st_size == other.st_size and file_digest(first) == file_digest(second)


def copy_file(disk: Disk, source: Path, target: Path) -> None:
    """Copy a plain file to a new name and flush it; the copy is read back and compared.

    Raises
    ------
    OSError : anything the system says; EIO when the copy differs from what was read
    """
    digest = hashlib.sha256()

    def read() -> Iterator[bytes]:
        for piece in _pieces(handle):
            digest.update(piece)
            yield piece

    with plain_file(source) as handle:
        disk.write_new(target, read())
    if digest.hexdigest() != file_digest(target):
        disk.unlink(target)
        raise OSError(errno.EIO, "the copy differs from the original", str(target))


def copy_tree(disk: Disk, source: Path, target: Path) -> None:
    """Copy a folder to a new name and flush all of it; links are copied as links, not followed.

    Raises
    ------
    NotPlainFileError : a pipe, socket or device lies in it, which cannot be copied
    """
    disk.make_folder(target)
    for name in disk.names(source):
        inner = source / name
        if disk.is_folder(inner):
            copy_tree(disk, inner, target / name)
        elif disk.is_plain(inner):
            copy_file(disk, inner, target / name)
        elif os.path.islink(inner):
            disk.make_link(target / name, os.readlink(inner))
        else:
            copy_file(disk, inner, target / name)  # says what is wrong
    disk.sync(target)
