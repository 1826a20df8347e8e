"""A look through all of a large file beside the work, by a thread and connection of its own."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing, suppress
from typing import TYPE_CHECKING, Final

from gatekeeper.history import sqlite

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LARGE: Final = 200_000_000
"""Size (bytes) from which a start does not wait for the look: some seconds at the disk's speed."""

_PATIENCE_S: Final = 0.5

_STEPS: Final = 20_000
"""Of SQLite's machine, between two questions whether to go on."""


class LookBeside:
    """One look; `told` gets what is wrong, "" for nothing, unless the look is ended before."""

    def __init__(self, file: Path, told: Callable[[str], None]) -> None:
        self._file = file
        self._told = told
        self._connection: sqlite3.Connection | None = None
        self._is_ended = threading.Event()
        # A daemon thread: a program that only notes something does not wait for it.
        self._thread = threading.Thread(target=self._look, name="history look", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def end(self) -> None:
        """End the look where it stands.

        Older versions of SQLite hear of it only when they are through with a table, so the thread
        is not waited for long: it changes nothing, and ends with the program.
        """
        self._is_ended.set()
        connection = self._connection
        if connection is not None:
            with suppress(sqlite3.Error):  # it may have been closed in this moment
                connection.interrupt()
        self._thread.join(_PATIENCE_S)

    def _look(self) -> None:
        try:
            with closing(sqlite.connect(self._file, mode="ro", lock_s=1.0)) as connection:
                self._connection = connection
                connection.set_progress_handler(self._is_ended.is_set, _STEPS)
                answer = sqlite.look_through(connection)
        except sqlite3.Error as error:
            if sqlite.code_of(error) not in sqlite.DAMAGE:
                return  # ended, or locked out: nothing was found, the next start looks again
            answer = str(error)
        if not self._is_ended.is_set():
            self._told(answer)
