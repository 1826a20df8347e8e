"""Brings a database up to this program's version, all in one transaction.

A new database gets the tables of `schema.py` as they are. An older one gets the steps that it
lacks, in order: `revisions/versions/` holds them, and `upgrading.py` runs them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import func, insert, inspect, select

from gatekeeper.history import trouble
from gatekeeper.history.interface import HistoryAwayError
from gatekeeper.history.schema import VERSION, metadata, schema_versions

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection


@dataclass(frozen=True, slots=True)
class Goal:
    """The version that a program writes, and the steps that lead there."""

    version: int
    scripts: Path


CURRENT = Goal(VERSION, Path(__file__).with_name("revisions"))


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


def usable_version(connection: Connection, goal: Goal, where: str) -> int:
    """Return the version that the database is at, if this program can use it.

    Parameters
    ----------
    where : the database's name, for the error

    Raises
    ------
    HistoryAwayError : the database is newer than the program, or not a history
    """
    try:
        found = version_of(connection)
    except HistoryAwayError as error:
        error.where = where
        raise
    if found > goal.version:
        raise trouble.newer(found, goal.version, where)
    return found


def bring_up(connection: Connection, *, at: datetime, program: str, goal: Goal = CURRENT) -> int:
    """Make or upgrade the tables and return the version that was found, 0 for none.

    Raises
    ------
    HistoryAwayError : the database is newer than the program, or not a history
    """
    found = version_of(connection)

    def note(version: int, step: str) -> None:
        row = {"version": version, "step": step, "at": at, "program": program}
        connection.execute(insert(schema_versions).values(row))

    if found > goal.version:
        raise trouble.newer(found, goal.version)
    if found == 0:
        metadata.create_all(connection, checkfirst=False)
        guard(connection)
        note(goal.version, "begun")
    elif found < goal.version:
        from gatekeeper.history.upgrading import upgrade  # noqa: PLC0415 -- loads Alembic

        upgrade(connection, scripts=goal.scripts, found=found, version=goal.version, note=note)
    return found


def guard(connection: Connection) -> None:
    """Let the database itself refuse every change to an event."""
    if connection.dialect.name == "postgresql":
        from gatekeeper.history.postgres import guard_events  # noqa: PLC0415 -- loads the driver
    else:
        from gatekeeper.history.sqlite import guard_events  # noqa: PLC0415 -- its counterpart
    guard_events(connection)
