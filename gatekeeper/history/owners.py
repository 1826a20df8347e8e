"""Whose readings these are: by the bytes of their file, and by their digits in whatever file.

The first user owns a reading: a copy that was dropped under another job's name, and held for it,
does not take the reading away from the job that it was made for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from gatekeeper.history.interface import job_key
from gatekeeper.history.past import KnownSheet
from gatekeeper.history.schema import negatives, sheets

if TYPE_CHECKING:
    from sqlalchemy import Connection


def of_bytes(connection: Connection, site: str, sha256: str, other_than: str) -> KnownSheet | None:
    """Return the first sheet of these bytes, None where there is none or it is of this job."""
    query = (
        select(*_SHEET)
        .where(sheets.c.site == site, sheets.c.sha256 == sha256)
        .order_by(sheets.c.ticket)
        .limit(1)
    )
    first = connection.execute(query).first()
    if first is None or first.job_key == job_key(other_than):
        return None
    return KnownSheet(first.job, first.workflow, first.name, first.ticket)


def of_digits(
    connection: Connection, site: str, digits: str, ticket: str, other_than: str
) -> KnownSheet | None:
    """Return the sheet of another job, nearest in time to a ticket, with a film of these digits.

    The first of all is asked for, and the nearest only where that is another job's: for nearly
    every job one look into an index that finds nothing.
    """
    query = (
        select(*_SHEET)
        .join(negatives, negatives.c.sheet_id == sheets.c.id)
        .where(negatives.c.site == site, negatives.c.digits == digits)
        .limit(1)
    )
    arrival = negatives.c.sheet_ticket
    first = connection.execute(query.order_by(arrival)).first()
    own = job_key(other_than)
    if first is None or first.job_key == own:
        return None
    of_others = query.where(sheets.c.job_key != own)
    earlier = of_others.where(arrival < ticket).order_by(arrival.desc())
    # A sheet that another one of its job overtook may be judged after the copy that was made of it.
    later = of_others.where(arrival >= ticket).order_by(arrival)
    near = connection.execute(earlier).first() or connection.execute(later).one()
    return KnownSheet(near.job, near.workflow, near.name, near.ticket)


_SHEET = (sheets.c.job, sheets.c.job_key, sheets.c.workflow, sheets.c.name, sheets.c.ticket)
