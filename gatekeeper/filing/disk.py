"""Every call that changes the disk, one method each: tests stop, record or refuse any of them.

Promises  `write_new` returns when the bytes are on the disk; `rename_new` never overwrites; nothing
          here looks first and acts then. A rename is durable only after `sync` of both folders,
          which is the caller's to ask for. Where several jobs go abreast, a flush may wait for
          theirs (`put_off`); it returns to its job only when it is done.
Errors    OSError as the system gives it. A failed fsync is final for that file: it is removed, and
          fsync is never called on it again.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import stat
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

PIECE = 1 << 20
"""Bytes that are read or written in one call."""

_FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC
_FOREIGN = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC

_AT_FDCWD = -100
_RENAME_NOREPLACE = 1
_NOT_OFFERED = {errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP}
_TAKEN = {errno.ENOTEMPTY, errno.ENOTDIR, errno.EEXIST}

_libc = ctypes.CDLL(None, use_errno=True)


class NotPlainFileError(OSError):
    """The name is a link, pipe, socket, device or folder: never opened as a file."""


class TooLargeError(OSError):
    """The file is larger than what may be read at once."""


@dataclass(frozen=True, slots=True)
class Flush:
    """Bytes of a file, or names of a folder, that are to be durable before the next step."""

    path: Path
    handle: int | None = None  # None: it is opened for the flush
    is_folder: bool = False


class Disk:
    """The real disk. Tests override `before`, which is called ahead of every change."""

    put_off: Callable[[tuple[Flush, ...]], None] | None = None
    """Takes flushes and returns when they are done; None: they are done at once."""

    whole_is_enough = True
    """Whether a flush of the whole filesystem stands for that of each file; a record needs each."""

    def before(self, operation: str, *paths: Path) -> None:
        """Do nothing; a test's disk stops, records or fails here."""

    # -- looking ------------------------------------------------------------------------------

    def lstat(self, path: Path) -> os.stat_result | None:
        """Return the entry itself, None only where there is none: every other error is raised."""
        try:
            return os.lstat(path)
        except FileNotFoundError:
            return None

    def is_folder(self, path: Path) -> bool:
        """Whether a folder of this name is there; links do not count."""
        found = self.lstat(path)
        return found is not None and stat.S_ISDIR(found.st_mode)

    def is_plain(self, path: Path) -> bool:
        """Whether a plain file of this name is there; links do not count."""
        found = self.lstat(path)
        return found is not None and stat.S_ISREG(found.st_mode)

    def names(self, folder: Path) -> list[str]:
        """Return the names in a folder, sorted; an absent folder has none."""
        try:
            return sorted(os.listdir(folder))
        except FileNotFoundError:
            return []

    def read(self, path: Path, most: int) -> bytes:
        """Return the bytes of a plain file.

        Raises
        ------
        NotPlainFileError : the name is no plain file
        TooLargeError : it holds more than `most` bytes
        """
        with plain_file(path) as handle:
            size = os.fstat(handle).st_size
            if size > most:
                too_many = f"{size} bytes, at most {most} are read"
                raise TooLargeError(errno.EFBIG, too_many, str(path))
            parts: list[bytes] = []
            left = most + 1
            while left > 0 and (part := os.read(handle, min(left, PIECE))):
                parts.append(part)
                left -= len(part)
        if left <= 0:
            raise TooLargeError(errno.EFBIG, f"grew beyond {most} bytes", str(path))
        return b"".join(parts)

    def head(self, path: Path, most: int) -> bytes:
        """Return the first bytes of a plain file."""
        with plain_file(path) as handle:
            return os.read(handle, most)

    # -- changing -----------------------------------------------------------------------------

    def make_folder(self, path: Path) -> None:
        """Make one folder; FileExistsError when the name is taken."""
        self.before("mkdir", path)
        os.mkdir(path)

    def write_new(
        self, path: Path, content: bytes | Iterable[bytes], *, with_name: bool = False
    ) -> None:
        """Make a file, its bytes on the disk when this returns; FileExistsError when taken.

        Parameters
        ----------
        with_name : its name is on the disk too, as after `sync` of its folder

        After an error nothing is left of it: a file whose fsync failed may look whole and be lost.
        """
        self.before("create", path)
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
        handle = os.open(path, flags, 0o666)
        try:
            try:
                for piece in (content,) if isinstance(content, bytes) else content:
                    self.before("write", path)
                    with _named(path):
                        _write_all(handle, piece)
                name = (Flush(path.parent, is_folder=True),) if with_name else ()
                self._have_flushed((Flush(path, handle), *name))
            finally:
                os.close(handle)
        except OSError:
            with contextlib.suppress(OSError):
                os.unlink(path)
            raise

    def overwrite(self, path: Path, content: bytes) -> None:
        """Write a word over the last one of the same length; it is no record and not flushed."""
        self.before("overwrite", path)
        flags = os.O_WRONLY | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC
        handle = os.open(path, flags, 0o644)
        try:
            with _named(path):
                os.pwrite(handle, content, 0)
        finally:
            os.close(handle)

    def sync(self, *folders: Path) -> None:
        """Make the names in folders durable; nothing is said of which comes first."""
        self._have_flushed(tuple(Flush(folder, is_folder=True) for folder in folders))

    def sync_file(self, path: Path) -> None:
        """Make the bytes of somebody else's file durable before it is renamed.

        Renamed into place without it, a file was found with size 0 after a power cut.
        """
        self._have_flushed((Flush(path),))

    def _have_flushed(self, flushes: tuple[Flush, ...]) -> None:
        if self.put_off:
            self.put_off(flushes)
        else:
            for flush in flushes:
                self.flush(flush)

    def flush(self, flush: Flush) -> None:
        """Flush one file or folder, now."""
        self.before("fsync", flush.path)
        with _named(flush.path):
            if flush.handle is not None:
                os.fsync(flush.handle)
            else:
                _flush(flush.path, _FOLDER if flush.is_folder else _FOREIGN)

    def rename_new(self, source: Path, target: Path) -> None:
        """Rename a file or folder; FileExistsError when the target's name is taken.

        After an error both names are looked at: over a network a rename can report failure and have
        happened.
        """
        self.before("rename", source, target)
        entry = os.lstat(source)
        try:
            self._rename(source, target, entry)
        except OSError:
            if not self._has_happened(source, target, entry):
                raise

    def _has_happened(self, source: Path, target: Path, entry: os.stat_result) -> bool:
        try:
            found = self.lstat(target)
            return (
                found is not None and os.path.samestat(found, entry) and self.lstat(source) is None
            )
        except OSError:
            return False  # what was reported first is the better news

    def _rename(self, source: Path, target: Path, entry: os.stat_result) -> None:
        try:
            self.rename_noreplace(source, target)
        except OSError as error:
            if error.errno not in _NOT_OFFERED:
                raise
            if stat.S_ISDIR(entry.st_mode):
                _rename_folder(source, target)
            else:
                self._rename_file(source, target, entry)

    def rename_noreplace(self, source: Path, target: Path) -> None:
        """Ask the kernel for a rename that refuses a taken name; not every filesystem offers it."""
        names = os.fsencode(source), os.fsencode(target)
        if _libc.renameat2(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_NOREPLACE):
            number = ctypes.get_errno()
            raise OSError(number, os.strerror(number), str(source), None, str(target))

    def _rename_file(self, source: Path, target: Path, entry: os.stat_result) -> None:
        """Link, then unlink. A crash between leaves one file under both names."""
        try:
            os.link(source, target, follow_symlinks=False)
        except FileExistsError:
            found = self.lstat(target)
            if found is None or not os.path.samestat(found, entry):
                raise
        except PermissionError:
            # The kernel refuses links to other people's files (fs.protected_hardlinks). Files of
            # theirs are only ever renamed into folders that nobody but the gate writes to.
            if self.lstat(target) is not None:
                raise FileExistsError(errno.EEXIST, "the name is taken", str(target)) from None
            os.rename(source, target)
            return
        self.sync(target.parent)
        self.before("unlink", source)
        os.unlink(source)

    def link_new(self, source: Path, target: Path) -> None:
        """Give a file a second name; FileExistsError when that is taken."""
        self.before("link", source, target)
        os.link(source, target, follow_symlinks=False)

    def make_link(self, path: Path, to: str) -> None:
        """Make a symbolic link, as a copy of one that somebody put into a job folder."""
        self.before("symlink", path)
        os.symlink(to, path)

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
        try:
            with os.scandir(path) as entries:
                inside = sorted(
                    (entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries
                )
        except FileNotFoundError:
            return
        for name, is_folder in inside:
            if is_folder:
                self.remove_tree(path / name)
            else:
                self.unlink(path / name)
        self.remove_folder(path)


@contextlib.contextmanager
def plain_file(path: Path) -> Iterator[int]:
    """Open a plain file for reading; nothing else is opened or waited for.

    Raises
    ------
    NotPlainFileError : the name is a link, pipe, socket, device or folder
    """
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        if error.errno in {errno.ELOOP, errno.ENXIO}:
            raise NotPlainFileError(error.errno, "is not a plain file", str(path)) from error
        raise
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise NotPlainFileError(errno.EINVAL, "is not a plain file", str(path))
        with _named(path):
            yield handle
    finally:
        os.close(handle)


@contextlib.contextmanager
def _named(path: Path) -> Iterator[None]:
    """Let an error of an open file say which one it is of, for a person has to see to its disk."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            error.filename = str(path)
        raise


def _write_all(handle: int, piece: bytes) -> None:
    """Write until nothing is left: a write may be short without an error."""
    left = memoryview(piece)
    while left:
        left = left[os.write(handle, left) :]


def _flush(path: Path, flags: int) -> None:
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some network filesystems have no fsync of folders
            raise
    finally:
        os.close(handle)


def _rename_folder(source: Path, target: Path) -> None:
    """Rename a folder where the kernel cannot refuse a taken name.

    All that such a rename can replace is an empty folder, which holds nothing. Winning the name by
    `mkdir` first would leave that empty folder behind in a crash, to be taken for somebody's job.
    """
    try:
        os.rename(source, target)
    except OSError as error:
        if error.errno in _TAKEN:
            raise FileExistsError(errno.EEXIST, "the name is taken", str(target)) from error
        raise
