"""Lists of jobs, the one filed last first, each from the index that narrows it most."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, func, select

from gatekeeper.history import answers
from gatekeeper.history.schema import verdicts
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection

    from gatekeeper.history.past import JobLine


def newest_of_jobs(
    connection: Connection,
    site: str,
    *,
    since: datetime | None,
    wanted: dict[str, str | None],
    limit: int | None,
) -> tuple[JobLine, ...]:
    """Return the newest verdict of each job.

    Parameters
    ----------
    wanted : decision, customer and workflow to narrow by; None for any
    """
    query = (
        select(verdicts)
        .where(verdicts.c.site == site, verdicts.c.newest, *_narrowed(wanted))
        .order_by(verdicts.c.filed_at.desc(), verdicts.c.ticket.desc())
        .limit(limit)
    )
    if since is not None:
        query = query.where(verdicts.c.filed_at >= since)
    return tuple(answers.job_line(row) for row in connection.execute(query))


def _narrowed(wanted: dict[str, str | None]) -> list[ColumnElement[bool]]:
    """Return the conditions, with only the narrowest offered to an index.

    A database without statistics cannot know that "approved" means nearly all jobs and a customer
    few, and may walk a million rows for want of a hint. Held jobs are few, so they come first.
    """
    order = ["customer", "workflow", "decision"]
    if wanted["decision"] == Decision.HELD.value:
        order = ["decision", "customer", "workflow"]
    given = [name for name in order if wanted[name] is not None]
    return [
        verdicts.c[name] == wanted[name]
        if name == given[0]
        else func.coalesce(verdicts.c[name], "") == wanted[name]  # same answer, no index
        for name in given
    ]
