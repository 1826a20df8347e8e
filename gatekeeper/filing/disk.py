"""Every call that changes the disk, one method each: tests stop, record or refuse any of them.

Promises  `write_new` returns when the bytes are on the disk; `rename_new` never overwrites; nothing
          here looks first and acts then. A rename is durable only after `sync` of both folders,
          which is the caller's to ask for.
Errors    OSError as the system gives it. A failed fsync is final for that file: it is never called
          twice.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import stat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_AT_FDCWD = -100
_RENAME_NOREPLACE = 1
_NOT_OFFERED = {errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP}
_ABSENT = {errno.ENOENT, errno.ENOTDIR}

_libc = ctypes.CDLL(None, use_errno=True)


class NotPlainFileError(OSError):
    """The name is a link, pipe, socket, device or folder: never opened as a file."""


class TooLargeError(OSError):
    """The file is larger than what may be read at once."""


class Disk:
    """The real disk. Tests override `before`, which is called ahead of every change."""

    def before(self, operation: str, *paths: Path) -> None:
        """Do nothing; a test's disk stops, records or fails here."""

    # -- looking ------------------------------------------------------------------------------

    def lstat(self, path: Path) -> os.stat_result | None:
        """Return the entry itself, None only where there is none: every other error is raised."""
        try:
            return os.lstat(path)
        except OSError as error:
            if error.errno in _ABSENT:
                return None
            raise

    def is_folder(self, path: Path) -> bool:
        """Whether a folder of this name is there; links do not count."""
        found = self.lstat(path)
        return found is not None and stat.S_ISDIR(found.st_mode)

    def names(self, folder: Path) -> list[str]:
        """Return the names in a folder, sorted; an absent folder has none."""
        try:
            return sorted(os.listdir(folder))
        except OSError as error:
            if error.errno in _ABSENT:
                return []
            raise

    def read(self, path: Path, most: int) -> bytes:
        """Return the bytes of a plain file.

        Raises
        ------
        NotPlainFileError : the name is no plain file
        TooLargeError : it holds more than `most` bytes
        """
        handle = _open_plain(path)
        try:
            size = os.fstat(handle).st_size
            if size > most:
                raise TooLargeError(
                    errno.EFBIG, f"{size} bytes, at most {most} are read", str(path)
                )
            parts: list[bytes] = []
            left = most + 1
            while left > 0 and (part := os.read(handle, min(left, 1 << 20))):
                parts.append(part)
                left -= len(part)
        finally:
            os.close(handle)
        if left <= 0:
            raise TooLargeError(errno.EFBIG, f"grew beyond {most} bytes", str(path))
        return b"".join(parts)

    # -- changing -----------------------------------------------------------------------------

    def make_folder(self, path: Path) -> None:
        """Make one folder; FileExistsError when the name is taken."""
        self.before("mkdir", path)
        os.mkdir(path)

    def write_new(self, path: Path, content: bytes) -> None:
        """Make a file, its bytes on the disk when this returns; FileExistsError when taken."""
        self.before("create", path)
        handle = os.open(
            path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o666
        )
        try:
            self.before("write", path)
            view = memoryview(content)
            while view:
                view = view[os.write(handle, view) :]
            self.before("fsync", path)
            os.fsync(handle)
        finally:
            os.close(handle)

    def sync(self, folder: Path) -> None:
        """Make the names in a folder durable."""
        self.before("fsync", folder)
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(handle)
        except OSError as error:
            if error.errno != errno.EINVAL:  # some network filesystems have no fsync of folders
                raise
        finally:
            os.close(handle)

    def rename_new(self, source: Path, target: Path) -> None:
        """Rename a file or folder; FileExistsError when the target's name is taken.

        After an error both names are looked at: over a network a rename can report failure and have
        happened.
        """
        self.before("rename", source, target)
        before = self.lstat(source)
        try:
            self._rename(source, target)
        except FileExistsError:
            raise
        except OSError:
            after = self.lstat(target)
            if before is None or after is None or self.lstat(source) is not None:
                raise
            if (before.st_ino, before.st_dev) != (after.st_ino, after.st_dev):
                raise

    def _rename(self, source: Path, target: Path) -> None:
        failed = _libc.renameat2(
            _AT_FDCWD,
            os.fsencode(source),
            _AT_FDCWD,
            os.fsencode(target),
            _RENAME_NOREPLACE,
        )
        if not failed:
            return
        number = ctypes.get_errno()
        if number not in _NOT_OFFERED:
            raise OSError(number, os.strerror(number), str(source), None, str(target))
        if self.is_folder(source):
            os.mkdir(target)  # the name is won here; an empty folder is replaced by the rename
            os.rename(source, target)
        else:
            os.link(source, target, follow_symlinks=False)
            os.unlink(source)

    def unlink(self, path: Path) -> None:
        """Remove a file; an absent one is as good as removed."""
        self.before("unlink", path)
        with contextlib.suppress(FileNotFoundError):
            os.unlink(path)

    def remove_folder(self, path: Path) -> None:
        """Remove an empty folder; an absent one is as good as removed."""
        self.before("rmdir", path)
        with contextlib.suppress(FileNotFoundError):
            os.rmdir(path)

    def remove_tree(self, path: Path) -> None:
        """Remove a folder that the state table does not look at; links inside are not followed."""
        for name in self.names(path):
            inner = path / name
            if self.is_folder(inner):
                self.remove_tree(inner)
            else:
                self.unlink(inner)
        self.remove_folder(path)


def _open_plain(path: Path) -> int:
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        if error.errno in {errno.ELOOP, errno.ENXIO}:
            raise NotPlainFileError(error.errno, "is not a plain file", str(path)) from error
        raise
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        raise NotPlainFileError(errno.EINVAL, "is not a plain file", str(path))
    return handle
