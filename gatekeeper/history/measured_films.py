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
    from collections.abc import Iterator
    from datetime import datetime

    from sqlalchemy import ColumnElement, Connection, Select

    from gatekeeper.history.answers import AnyRow


_MOST_TICKETS = 5000  # databases take some 30,000 values a statement


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
    conditions = list(_conditions(site, since, wanted, tickets))
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
    site: str, since: datetime, wanted: dict[str, str | None], tickets: list[str] | None
) -> Iterator[ColumnElement[bool]]:
    yield sheets.c.site == site
    # One or the other: of two conditions SQLite would take the one that walks the whole window.
    yield (
        sheets.c.ticket >= first_ticket(since) if tickets is None else sheets.c.ticket.in_(tickets)
    )
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
