"""Proof that the record is as written: first the chain, then each verdict against its event."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, select

from gatekeeper.history import chain, rows
from gatekeeper.history.interface import EventKind
from gatekeeper.history.past import Break
from gatekeeper.history.schema import events, verdicts

if TYPE_CHECKING:
    from sqlalchemy import Connection, Row

    from gatekeeper.history.past import ChainReport, Event


def head(connection: Connection, site: str) -> Event | None:
    """Return the newest event of a site."""
    return chain.last(connection, site)


def verify(connection: Connection, site: str, *, seen_sha256: str = "") -> ChainReport:
    """Return what is wrong first. Both passes read row by row, whatever the history's size."""
    report = chain.walk(connection, site, seen_sha256=seen_sha256)
    if report.broken is not None:
        return report
    both = (
        select(verdicts, events.c.kind, events.c.document)
        .outerjoin(
            events,
            and_(events.c.site == verdicts.c.site, events.c.sequence == verdicts.c.sequence),
        )
        .where(verdicts.c.site == site)
        .order_by(verdicts.c.sequence)
    )
    with connection.execute(both, execution_options={"yield_per": 1000}) as found:
        for row in found:
            flaw = _difference(row)
            if flaw:
                return replace(report, broken=Break(row.sequence, flaw))
    return replace(report, broken=_lost_verdict(connection, site))


def _difference(row: Row[tuple[Any, ...]]) -> str:
    """Return how a verdict differs from its event, "" where it does not."""
    if row.kind != EventKind.VERDICT.value:
        return f"the verdict of ticket {row.ticket} has no event"
    sealed = json.loads(row.document)
    for name, value in rows.sealed_facts(row._mapping).items():  # noqa: SLF001 -- public in spite of its name
        if sealed.get(name) != value:
            return f"{name} of the verdict of ticket {row.ticket} was altered"
    return ""


def _lost_verdict(connection: Connection, site: str) -> Break | None:
    """Return the first event that tells of a verdict which is no longer there."""
    query = (
        select(events.c.sequence, events.c.subject)
        .outerjoin(
            verdicts,
            and_(verdicts.c.site == events.c.site, verdicts.c.sequence == events.c.sequence),
        )
        .where(
            events.c.site == site, events.c.kind == EventKind.VERDICT.value, verdicts.c.id.is_(None)
        )
        .order_by(events.c.sequence)
        .limit(1)
    )
    row = connection.execute(query).first()
    return (
        None if row is None else Break(row.sequence, f"the verdict on job {row.subject} is missing")
    )
