"""Whose readings these are: by the bytes of their file, and by their digits in whatever file.

The first user owns a reading: a copy that was dropped under another job's name, and held for it,
does not take the reading away from the job that it was made for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import bindparam, select

from gatekeeper.history.interface import job_key
from gatekeeper.history.past import KnownSheet
from gatekeeper.history.schema import negatives, sheets

if TYPE_CHECKING:
    from sqlalchemy import Connection


def of_bytes(connection: Connection, site: str, sha256: str, other_than: str) -> KnownSheet | None:
    """Return the first sheet of these bytes, None where there is none or it is of this job."""
    first = connection.execute(_FIRST_OF_BYTES, {"site": site, "sha256": sha256}).first()
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
    asked = {"site": site, "digits": digits}
    first = connection.execute(_FIRST_OF_DIGITS, asked).first()
    own = job_key(other_than)
    if first is None or first.job_key == own:
        return None
    arrival = negatives.c.sheet_ticket
    of_others = _OF_DIGITS.where(sheets.c.job_key != own)
    earlier = of_others.where(arrival < ticket).order_by(arrival.desc())
    # A sheet that another one of its job overtook may be judged after the copy that was made of it.
    later = of_others.where(arrival >= ticket).order_by(arrival)
    near = connection.execute(earlier, asked).first() or connection.execute(later, asked).one()
    return KnownSheet(near.job, near.workflow, near.name, near.ticket)


# Built once: each is asked for every job, and building costs more than running.
_SHEET = (sheets.c.job, sheets.c.job_key, sheets.c.workflow, sheets.c.name, sheets.c.ticket)
_FIRST_OF_BYTES = (
    select(*_SHEET)
    .where(sheets.c.site == bindparam("site"), sheets.c.sha256 == bindparam("sha256"))
    .order_by(sheets.c.ticket)
    .limit(1)
)
_OF_DIGITS = (
    select(*_SHEET)
    .join(negatives, negatives.c.sheet_id == sheets.c.id)
    .where(negatives.c.site == bindparam("site"), negatives.c.digits == bindparam("digits"))
    .limit(1)
)
_FIRST_OF_DIGITS = _OF_DIGITS.order_by(negatives.c.sheet_ticket)
