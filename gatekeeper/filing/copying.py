"""Copies across filesystems, where a rename cannot go: new, compared, flushed, never continued."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from typing import TYPE_CHECKING

from gatekeeper.filing.disk import NotPlainFileError

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk

_PIECE = 1 << 20


def copy_file(disk: Disk, source: Path, target: Path) -> None:
    """Copy a plain file to a new name and flush it; the copy is read back and compared.

    Raises
    ------
    OSError : anything the system says; EIO when the copy differs from what was read
    """
    disk.before("create", target)
    reading = os.open(source, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        if not stat.S_ISREG(os.fstat(reading).st_mode):
            raise NotPlainFileError(errno.EINVAL, "is not a plain file", str(source))
        digest = _pour(disk, reading, target)
    finally:
        os.close(reading)
    if digest != file_digest(target):
        raise OSError(errno.EIO, "the copy differs from the original", str(target))


def _pour(disk: Disk, reading: int, target: Path) -> str:
    digest = hashlib.sha256()
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
    writing = os.open(target, flags, 0o666)
    try:
        while piece := os.read(reading, _PIECE):
            digest.update(piece)
            disk.before("write", target)
            view = memoryview(piece)
            while view:
                view = view[os.write(writing, view) :]
        disk.before("fsync", target)
        os.fsync(writing)
    finally:
        os.close(writing)
    return digest.hexdigest()


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a plain file of any size."""
    digest = hashlib.sha256()
    handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        while piece := os.read(handle, _PIECE):
            digest.update(piece)
    finally:
        os.close(handle)
    return digest.hexdigest()


def same_file(disk: Disk, first: Path, second: Path) -> bool:
    """Whether two plain files hold the same bytes."""
    one, other = disk.lstat(first), disk.lstat(second)
    if one is None or other is None or not stat.S_ISREG(other.st_mode):
        return False
    return one.st_size == other.st_size and file_digest(first) == file_digest(second)


def copy_tree(disk: Disk, source: Path, target: Path) -> None:
    """Copy a folder to a new name and flush all of it; a link or device in it is an error."""
    disk.make_folder(target)
    for name in disk.names(source):
        inner = source / name
        if disk.is_folder(inner):
            copy_tree(disk, inner, target / name)
        else:
            copy_file(disk, inner, target / name)
    disk.sync(target)
