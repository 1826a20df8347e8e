"""SQLite's own speech: everything that another database would say otherwise.

Measured in power cuts after an acknowledged commit: with WAL and synchronous=NORMAL everything
since the last checkpoint was lost, with the defaults the last commit; with WAL and FULL nothing. So
both are set on every connection, and read back, because SQLite ignores what it cannot do.
"""

from __future__ import annotations

import sqlite3
from functools import partial
from typing import TYPE_CHECKING, Literal

from sqlalchemy import QueuePool, create_engine, event

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import Connection, Engine

Mode = Literal["ro", "rw", "mend"]
"""To look; to write; to look after SQLite has taken back a transaction that was cut off."""

SETTINGS: dict[Mode, dict[str, str | int]] = {
    "rw": {
        "journal_mode": "wal",
        "synchronous": 2,  # FULL
        "foreign_keys": 1,
        "recursive_triggers": 1,  # without it INSERT OR REPLACE deletes past the trigger
        "trusted_schema": 0,
    },
    "ro": {"query_only": 1, "trusted_schema": 0},
    "mend": {"query_only": 1, "trusted_schema": 0},
}

DAMAGE = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
CUT_OFF = frozenset({sqlite3.SQLITE_READONLY})
"""What a reader meets where a journal waits to be rolled back, which is a writer's work."""
PASSING = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_FULL})

_WORDS = {
    sqlite3.SQLITE_BUSY: ("another program holds the history locked", "wait, or end that program"),
    sqlite3.SQLITE_LOCKED: (
        "another program holds the history locked",
        "wait, or end that program",
    ),
    sqlite3.SQLITE_FULL: ("the disk of the history is full", "make room on it"),
    sqlite3.SQLITE_READONLY: (
        "the history cannot be written",
        "give the service the right to write",
    ),
    sqlite3.SQLITE_PERM: ("the history cannot be opened", "give the service the right to read it"),
    sqlite3.SQLITE_CANTOPEN: ("the history cannot be opened", "see to the folder and its rights"),
    sqlite3.SQLITE_IOERR: ("the disk of the history reports an error", "see to the disk"),
    sqlite3.SQLITE_CORRUPT: (
        "the history is damaged",
        "it is set aside when next opened; rebuild it",
    ),
    sqlite3.SQLITE_NOTADB: (
        "the history is damaged",
        "it is set aside when next opened; rebuild it",
    ),
}

_PATIENCE = "gatekeeper patience"

_GUARDS = (
    """CREATE TRIGGER events_refuse_update BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'events are never changed'); END""",
    """CREATE TRIGGER events_refuse_delete BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END""",
    # INSERT OR REPLACE would delete without asking the trigger above where a program did not set
    # recursive_triggers; it meets this one first.
    """CREATE TRIGGER events_only_appended BEFORE INSERT ON events
    WHEN NEW.sequence IS NOT
        (SELECT COALESCE(MAX(sequence), 0) + 1 FROM events WHERE site = NEW.site)
    BEGIN SELECT RAISE(ABORT, 'events are only appended'); END""",
)


class SettingRefusedError(sqlite3.OperationalError):
    """SQLite does not do what the record needs."""


def connect(file: Path, *, mode: Mode, lock_s: float) -> sqlite3.Connection:
    """Open a file that exists, with the settings of `mode`; no transaction begins by itself."""
    # mode=rw never creates: a file deleted under us must not come back empty and unnoticed.
    connection = sqlite3.connect(
        f"{file.as_uri()}?mode={'ro' if mode == 'ro' else 'rw'}",
        uri=True,
        timeout=lock_s,
        isolation_level=None,
        check_same_thread=False,  # the pool hands a connection to one thread at a time
    )
    try:
        for name, wanted in SETTINGS[mode].items():
            _set(connection, name, wanted)
    except BaseException:
        connection.close()
        raise
    return connection


def engine_for(file: Path, *, mode: Mode, lock_s: float) -> Engine:
    """Return an engine whose every connection is made by `connect`."""
    engine = create_engine(
        "sqlite://", creator=lambda: connect(file, mode=mode, lock_s=lock_s), poolclass=QueuePool
    )
    event.listen(engine, "begin", partial(_begin, lock_s=lock_s))
    return engine


def quick_check(connection: Connection) -> str:
    """Return what SQLite finds wrong with the file first, or "" where it finds nothing."""
    answer = str(connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one())
    return "" if answer == "ok" else answer


def look_through(connection: sqlite3.Connection) -> str:
    """Return what `quick_check` does, for a connection of the driver's own."""
    answer = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
    return "" if answer == "ok" else answer


def guard_events(connection: Connection) -> None:
    """Make SQLite refuse every change to `events` but the next one behind the last."""
    for statement in _GUARDS:
        connection.exec_driver_sql(statement)


def copy(engine: Engine, target: Path) -> None:
    """Copy the whole database, as of one moment, to a plain file without a log beside it.

    Raises
    ------
    sqlite3.Error : it could not be written, or what was written is not sound
    """
    with engine.connect() as connection:
        source = connection.connection.driver_connection
        copied = sqlite3.connect(target, isolation_level=None)
        try:
            # One step: the reader's view stays as it is while others write, and never starts over.
            source.backup(copied, pages=-1)  # type: ignore[union-attr]
            copied.execute("PRAGMA journal_mode = DELETE").close()
            answer = copied.execute("PRAGMA quick_check(1)").fetchone()[0]
            if answer != "ok":
                raise sqlite3.DatabaseError(answer)
        finally:
            copied.close()


def code_of(error: BaseException | None) -> int | None:
    """Return SQLite's primary result code of an error that it raised."""
    if isinstance(error, SettingRefusedError) or not isinstance(error, sqlite3.Error):
        return None
    code: int | None = getattr(error, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF


def words_for(error: BaseException | None) -> tuple[str, str]:
    """Return what is wrong and what to do, for an error that SQLite raised."""
    unknown = (f"the history cannot be used: {error}", "see to the file, or set it aside by hand")
    if isinstance(error, SettingRefusedError):
        what = f"the file system or SQLite does not keep the history safe: {error}"
        return what, "give the history a place on a local disk in site.yaml"
    return _WORDS.get(code_of(error) or -1, unknown)


def _set(connection: sqlite3.Connection, name: str, wanted: str | int) -> None:
    connection.execute(f"PRAGMA {name} = {wanted}").close()
    got = connection.execute(f"PRAGMA {name}").fetchone()[0]
    if got != wanted:
        message = f"{name} is {got} instead of {wanted}"
        raise SettingRefusedError(message)


def _begin(connection: Connection, *, lock_s: float) -> None:
    # A transaction that reads first and writes later can meet a lock that no waiting resolves;
    # one that will write says so at its start.
    options = connection.get_execution_options()
    _set_patience(connection, 0.0 if options.get("hurries", False) else lock_s, usual_s=lock_s)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writes", False) else "BEGIN")


def _set_patience(connection: Connection, wanted_s: float, *, usual_s: float) -> None:
    """Make a connection wait so long for a lock, unless it does already; the pool hands it on."""
    if connection.info.get(_PATIENCE, usual_s) != wanted_s:
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {int(wanted_s * 1000)}")
        connection.info[_PATIENCE] = wanted_s
