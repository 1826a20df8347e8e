"""Films measured since a moment, with what was read on them: what control charts are made from."""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from sqlalchemy import and_, select

from gatekeeper.history import answers
from gatekeeper.history.past import MeasuredFilm
from gatekeeper.history.schema import negatives, readings, sheets, verdicts
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager
    from datetime import datetime

    from sqlalchemy import ColumnElement, Connection, Select

    from gatekeeper.history.answers import AnyRow


_MOST_TICKETS = 5000  # databases take some 30,000 values a statement

PAGE = 500
"""Sheets whose films are in memory at a time where films are read one after the other."""


def measured_films(
    connection: Connection,
    site: str,
    since: datetime,
    wanted: dict[str, str | None],
    after: int = 0,
) -> tuple[MeasuredFilm, ...]:
    """Return the films of every sheet that arrived since then, in the order of arrival.

    Parameters
    ----------
    wanted : workflow, printer and meter to narrow by; None for any
    after : sequence number in the audit chain; above 0 only what was recorded behind it
    """
    tickets = _behind(connection, site, since, after) if after else None
    if tickets == []:
        return ()
    # One or the other: of two conditions SQLite would take the one that walks the whole window.
    in_time = sheets.c.ticket >= first_ticket(since)
    of_time = in_time if tickets is None else sheets.c.ticket.in_(tickets)
    return _films_of(connection, list(_conditions(site, wanted, of_time)))


def each_measured_film(
    reading: Callable[[], AbstractContextManager[Connection]],
    site: str,
    since: datetime,
    wanted: dict[str, str | None],
) -> Iterator[MeasuredFilm]:
    """Yield the films of every sheet that arrived since then, in the order of arrival.

    Each page is a look at the database of its own: what is recorded meanwhile may be among the
    films or not.

    Parameters
    ----------
    reading : gives a connection
    wanted : workflow, printer and meter to narrow by; None for any
    """
    behind = first_ticket(since)
    while True:
        with reading() as connection:
            last = _end_of_page(connection, site, behind)
            if last is None:
                return
            of_page = and_(sheets.c.ticket > behind, sheets.c.ticket <= last)
            films = _films_of(connection, list(_conditions(site, wanted, of_page)))
        yield from films
        behind = last


def _end_of_page(connection: Connection, site: str, behind: str) -> str | None:
    """Return the last ticket of the next page of sheets, None where there are no more."""
    query = (
        select(sheets.c.ticket)
        .where(sheets.c.site == site, sheets.c.ticket > behind)
        .order_by(sheets.c.ticket)
        .limit(PAGE)
    )
    tickets = list(connection.scalars(query))
    return tickets[-1] if tickets else None


def _films_of(
    connection: Connection, conditions: list[ColumnElement[bool]]
) -> tuple[MeasuredFilm, ...]:
    films = list(connection.execute(_films(conditions)))
    patches = (
        select(readings)
        .join(sheets, sheets.c.id == readings.c.sheet_id)
        .join(negatives, _of_negative())
        .where(*conditions)
        .order_by(readings.c.sheet_id, readings.c.negative, readings.c.position)
    )
    found = answers.past_negatives(films, connection.execute(patches))
    return tuple(
        MeasuredFilm(
            job=row.job,
            workflow=row.workflow,
            arrived_at=row.arrived_at,
            decision=Decision(row.decision),
            negative=negative,
        )
        for row, negative in zip(films, found, strict=True)
    )


def _films(conditions: list[ColumnElement[bool]]) -> Select[AnyRow]:
    brought = and_(verdicts.c.site == sheets.c.site, verdicts.c.ticket == sheets.c.ticket)
    return (
        select(
            negatives,
            sheets.c.name.label("sheet"),
            sheets.c.ticket,
            sheets.c.job,
            sheets.c.workflow,
            verdicts.c.arrived_at,
            verdicts.c.decision,
        )
        .join(sheets, sheets.c.id == negatives.c.sheet_id)
        .join(verdicts, brought)
        .where(*conditions)
        .order_by(sheets.c.ticket, sheets.c.name, negatives.c.position)
    )


def _conditions(
    site: str, wanted: dict[str, str | None], of_time: ColumnElement[bool]
) -> Iterator[ColumnElement[bool]]:
    yield sheets.c.site == site
    yield of_time
    columns = {
        "workflow": sheets.c.workflow,
        "printer": negatives.c.printer,
        "meter": negatives.c.meter,
    }
    for name, column in columns.items():
        if wanted.get(name) is not None:
            yield column == wanted[name]


def _of_negative() -> ColumnElement[bool]:
    return and_(
        negatives.c.sheet_id == readings.c.sheet_id, negatives.c.position == readings.c.negative
    )


def first_ticket(since: datetime) -> str:
    """Return what sorts before every ticket since then.

    A ticket begins with the moment of arrival, so the index of tickets serves as one of time.
    """
    return f"{since.astimezone(UTC):%Y%m%dT%H%M%S}"


def _behind(connection: Connection, site: str, since: datetime, after: int) -> list[str] | None:
    """Return the tickets of the verdicts behind an event; None where they are too many to name.

    Asked for by themselves: within the larger question SQLite would walk the whole window for them.
    """
    query = (
        select(verdicts.c.ticket)
        .where(verdicts.c.site == site, verdicts.c.sequence > after)
        .order_by(verdicts.c.sequence)
        .limit(_MOST_TICKETS + 1)
    )
    found = list(connection.scalars(query))
    if len(found) > _MOST_TICKETS:
        return None
    return [ticket for ticket in found if ticket >= first_ticket(since)]
