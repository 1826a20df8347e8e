"""The history as one SQLite file: where it lies, whether it is sound, whether it is still there."""

from __future__ import annotations

import os
import stat
from contextlib import contextmanager, suppress
from itertools import count
from typing import TYPE_CHECKING

from sqlalchemy.exc import DBAPIError

from gatekeeper.history import sqlite, trouble
from gatekeeper.history.beside import LARGE, LookBeside
from gatekeeper.history.drivers import original
from gatekeeper.history.file_copy import flush, write_copy
from gatekeeper.history.interface import HistoryAwayError
from gatekeeper.history.migrations import CURRENT, usable_version, version_of
from gatekeeper.history.mounts import TABLE, network_file_system
from gatekeeper.history.soundness import Soundness

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy import Connection, Engine

    from gatekeeper.history.migrations import Goal

_BESIDE = ("-wal", "-shm", "-journal")
_UNFILLED = ".unfilled"
_LOOKS: tuple[sqlite.Mode, ...] = ("ro", "mend")


class SqliteStore:
    """One file, with SQLite's own two beside it."""

    def __init__(
        self,
        file: Path,
        *,
        lock_s: float,
        writable: bool,
        mounts: Path = TABLE,
        goal: Goal = CURRENT,
        large: int = LARGE,
    ) -> None:
        self._file = file.absolute()
        self._lock_s = lock_s
        self.writable = writable
        self.goal = goal
        self.kept = ""
        self._mounts = mounts
        self._large = large
        self._soundness = Soundness(self._file, wait_s=lock_s)
        self._beside_work: LookBeside | None = None
        self._is_doubted = False  # damage was met: the next opening looks through all of it
        self._opened: tuple[int, int] | None = None  # device and inode
        self._folder: os.stat_result | None = None  # in which it was opened
        self.name = str(file)

    def open(self, now: datetime) -> tuple[Engine, str]:
        """Return an engine, and why the history must be begun anew ("" where it need not).

        Raises
        ------
        HistoryAwayError : the folder is not there or on a network, the file is something else, or a
            newer program wrote it; in each case nothing was touched
        """
        self._refuse_network()
        size = self._size()
        if not self.writable:
            if not size:
                raise trouble.nothing_begun(self.name)
            with self._looking() as connection:
                found = usable_version(connection, self.goal, self.name)
            if found < self.goal.version:
                raise trouble.not_yet_upgraded(found, self.goal.version, self.name)
            return self._engine("ro"), ""
        try:
            return self._open_to_write(now, size)
        except BaseException:
            self._soundness.leave()  # whoever opens it next need not wait for this one
            raise

    def _open_to_write(self, now: datetime, size: int | None) -> tuple[Engine, str]:
        is_known = self._soundness.enter(now)
        is_late = not is_known and (size or 0) >= self._large and not self._is_doubted
        trusted = is_known or is_late
        why = self._look(now, is_known=trusted) if size else self._empty(now, size)
        if why:
            self._create()
        if why or not trusted:
            self._soundness.looked(now)
        self._is_doubted = False
        self._soundness.entered()
        self._opened = self._identity()
        self._folder = self._file.parent.stat()
        engine = self._engine("rw")
        self._keep_copy(engine, now)
        if is_late and not why:
            self._look_beside(now)
        return engine, why

    @property
    def unfilled(self) -> str:
        """Why the history lacks what the job folders tell, though somebody else has begun it.

        An empty file beside it says so from before it is begun until it is filled: a kill may come
        between the two.
        """
        if self.writable and self._beside(_UNFILLED).exists():
            return "the history was begun anew, and filling it was interrupted"
        return ""

    def is_filled(self) -> None:
        """Take to note that it holds by now what the job folders tell."""
        with suppress(OSError):  # at worst the next start fills it once more
            self._beside(_UNFILLED).unlink()

    def let_go(self, engine: Engine, *, is_sound: bool) -> None:
        """Close every connection, and note what the file is where it is sound."""
        if self._beside_work is not None:
            self._beside_work.end()
            self._beside_work = None
        engine.dispose()
        is_sound = is_sound and not self._is_doubted
        self._soundness.leave(inode=self._opened[1] if self._opened and is_sound else None)

    def _look_beside(self, now: datetime) -> None:
        def told(damage: str) -> None:
            if damage:
                self._is_doubted = True  # the next use looks through it, and sets it aside
            else:
                self._soundness.looked(now)

        self._beside_work = LookBeside(self._file, told)
        self._beside_work.start()

    def set_aside(self, now: datetime, why: str) -> str:
        """Move the file and its two companions into a folder of their own, named by the moment.

        The folder is made first, by a call that fails where it exists, so nothing is overwritten. A
        crash in between leaves the companions behind; the next start finds and sets them aside too.
        """
        folder = self._new_folder(f"{self._file.name}.damaged-{now:%Y%m%dT%H%M%SZ}")
        for ending in ("", *_BESIDE):
            source = self._beside(ending)
            try:
                source.rename(folder / source.name)
            except FileNotFoundError:
                continue
        flush(folder)
        flush(folder.parent)
        return f"{why}; it was set aside as {folder.name}"

    def check_still_there(self) -> None:
        """Compare the file at the path with the one opened: SQLite writes on into a deleted one.

        Raises
        ------
        HistoryAwayError : it is another, or damage was found beside the work
        """
        if self._is_doubted:
            raise trouble.found_damaged(self.name)
        if self._opened is not None and self._identity() != self._opened:
            raise trouble.gone(self.name)

    def explain(self, error: Exception) -> HistoryAwayError:
        """Return SQLite's or the system's error in words."""
        if isinstance(error, OSError):
            what, do = f"the history cannot be reached: {error.strerror}", "see to its folder"
        else:
            self._is_doubted |= sqlite.code_of(original(error)) in sqlite.DAMAGE
            what, do = sqlite.words_for(original(error))
        return HistoryAwayError(what, self.name, do)

    def is_passing(self, error: Exception) -> bool:
        """Whether the connection is sound in spite of the error: locked, or the disk full."""
        return sqlite.code_of(original(error)) in sqlite.PASSING

    def copy_to(self, engine: Engine, target: Path) -> None:
        """Write a consistent, durable copy to a new file."""
        write_copy(engine, target)

    def _keep_copy(self, engine: Engine, now: datetime) -> None:
        """Copy a history of an earlier version beside itself, before anything of it is changed."""
        try:
            with engine.connect() as connection:
                found = version_of(connection)
            if 0 < found < self.goal.version:
                name = f"{self._file.name}.version-{found}-{now:%Y%m%dT%H%M%SZ}"
                self.copy_to(engine, self._file.with_name(name))
                self.kept = name
        except BaseException:
            engine.dispose()
            raise

    def _refuse_network(self) -> None:
        kind = network_file_system(self._file.parent, self._mounts)
        if kind:
            raise trouble.on_network(kind, self.name)

    def _size(self) -> int | None:
        """Return the file's size, None where there is none."""
        folder = self._file.parent
        if not folder.is_dir():
            raise trouble.no_folder(str(folder))
        if self._folder and not os.path.samestat(self._folder, folder.stat()):
            raise trouble.no_folder(str(folder))  # a mount point without its disk, most likely
        try:
            found = self._file.stat()
        except FileNotFoundError:
            return None
        if not stat.S_ISREG(found.st_mode):
            raise trouble.no_plain_file(self.name)
        return found.st_size

    def _empty(self, now: datetime, size: int | None) -> str:
        why = "no history was there" if size is None else "the history's file was empty"
        if size is None and self._opened is not None:
            why = "the history's file was deleted while it was in use"
        # A log without its file, or with an emptied one, may hold jobs; SQLite would delete it. (A
        # journal beside an empty file is only a beginning that was cut off.)
        if self._beside("-wal").exists():
            if self._size():
                return ""  # another program has begun it between the two looks
            return self.set_aside(now, f"{why}, but its log was")
        return why

    def _look(self, now: datetime, *, is_known: bool) -> str:
        """Look into the file without changing it; set it aside where it is damaged."""
        try:
            damage = self._damage(is_known=is_known)
        except DBAPIError as error:
            if sqlite.code_of(error.orig) not in sqlite.DAMAGE:
                raise
            damage = str(error.orig)
        return self.set_aside(now, f"the history was damaged ({damage})") if damage else ""

    def _damage(self, *, is_known: bool) -> str:
        for mode in _LOOKS:
            try:
                with self._looking(mode) as connection:
                    usable_version(connection, self.goal, self.name)
                    return "" if is_known else sqlite.quick_check(connection)
            except DBAPIError as error:
                if mode == _LOOKS[-1] or sqlite.code_of(error.orig) not in sqlite.CUT_OFF:
                    raise
        raise AssertionError  # the last look returned or raised

    @contextmanager
    def _looking(self, mode: sqlite.Mode = "ro") -> Iterator[Connection]:
        engine = self._engine(mode)
        try:
            with engine.connect() as connection:
                yield connection
        finally:
            engine.dispose()

    def _create(self) -> None:
        self._beside(_UNFILLED).touch()
        try:
            os.close(os.open(self._file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        except FileExistsError:
            return  # the empty one, or another program was quicker: making tables is a transaction
        flush(self._file.parent)

    def _identity(self) -> tuple[int, int] | None:
        try:
            found = self._file.stat()
        except FileNotFoundError:
            return None
        return found.st_dev, found.st_ino

    def _engine(self, mode: sqlite.Mode) -> Engine:
        return sqlite.engine_for(self._file, mode=mode, lock_s=self._lock_s)

    def _beside(self, ending: str) -> Path:
        return self._file.with_name(self._file.name + ending)

    def _new_folder(self, name: str) -> Path:
        for number in count(1):
            folder = self._file.with_name(name if number == 1 else f"{name}-{number}")
            try:
                folder.mkdir()
            except FileExistsError:
                continue
            return folder
        raise AssertionError  # numbers do not end
