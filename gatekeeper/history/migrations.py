"""Brings a database up to this program's version: each step once, all in one transaction.

A new database gets the tables of `schema.py` as they are. An older one gets the steps that it
lacks, in order. A step is a function named after what it does; once released it is never changed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import func, insert, inspect, select

from gatekeeper.history import sqlite, trouble
from gatekeeper.history.schema import VERSION, metadata, schema_versions

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

    from sqlalchemy import Connection

STEPS: Mapping[int, Callable[[Connection], None]] = {}
"""By the version that a step leads to. Version 1 is the first, so nothing leads to it."""


def version_of(connection: Connection) -> int:
    """Return the version that the database is at; 0 for one without tables.

    Raises
    ------
    HistoryAwayError : there are tables, and they are not the history's
    """
    tables = inspect(connection).get_table_names()
    if not tables:
        return 0
    newest = None
    if schema_versions.name in tables:
        newest = connection.scalar(select(func.max(schema_versions.c.version)))
    if newest is None:
        raise trouble.foreign()
    return int(newest)


def bring_up(
    connection: Connection,
    *,
    at: datetime,
    program: str,
    steps: Mapping[int, Callable[[Connection], None]] = STEPS,
    version: int = VERSION,
) -> int:
    """Make or upgrade the tables and return the version that was found, 0 for none.

    Raises
    ------
    HistoryAwayError : the database is newer than the program, or not a history
    """
    found = version_of(connection)
    if found > version:
        raise trouble.newer(found, version)
    if found == 0:
        metadata.create_all(connection)
        guard(connection)
        _note(connection, version, "begun", at, program)
        return 0
    for number in range(found + 1, version + 1):
        steps[number](connection)
        _note(connection, number, steps[number].__name__, at, program)
    return found


def guard(connection: Connection) -> None:
    """Let the database itself refuse every change to an event."""
    if connection.dialect.name == "sqlite":
        sqlite.guard_events(connection)


def _note(connection: Connection, version: int, step: str, at: datetime, program: str) -> None:
    row = {"version": version, "step": step, "at": at, "program": program}
    connection.execute(insert(schema_versions).values(row))
