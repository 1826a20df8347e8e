"""Verdicts since a moment with the rules that held: what yields and reasons are counted from."""

from __future__ import annotations

from array import array
from collections import defaultdict
from operator import attrgetter
from statistics import median
from typing import TYPE_CHECKING

from sqlalchemy import distinct, func, select

from gatekeeper.history.past import Lately, Outcome
from gatekeeper.history.schema import findings, verdicts
from gatekeeper.verdict import Decision
from gatekeeper.verdict import Outcome as Answer

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import ColumnElement, Connection

_ticket = attrgetter("ticket")
_HOLDING = (Answer.HOLD.value, Answer.NOT_JUDGED.value)
_COUNTED = (
    "id", "ticket", "home", "workflow", "decision", "newest", "concession", "printer", "film_lot",
)  # fmt: skip
_BY_TURNS = {"yield_per": 1000}  # rows that are in memory at a time


def outcomes(
    connection: Connection, site: str, since: datetime, workflow: str | None
) -> tuple[Outcome, ...]:
    """Return the verdicts filed since then, of each job in the order in which they were given."""
    conditions = _filed(site, since)
    if workflow is not None:
        conditions.append(verdicts.c.workflow == workflow)
    held = (
        select(findings.c.verdict_id, findings.c.rule)
        .join(verdicts, verdicts.c.id == findings.c.verdict_id)
        .where(*conditions, findings.c.outcome.in_(_HOLDING))
        .order_by(findings.c.verdict_id, findings.c.position)
    )
    rules: defaultdict[int, list[str]] = defaultdict(list)
    for row in connection.execute(held, execution_options=_BY_TURNS):
        rules[row.verdict_id].append(row.rule)
    # Sorted here: asked for this order, SQLite walks all tickets of the site and looks at the date
    # of each; at a million jobs that took ten times as long.
    query = select(*(verdicts.c[name] for name in _COUNTED)).where(*conditions)
    found = sorted(connection.execute(query), key=_ticket)
    once: dict[str, str] = {}  # a few names, each in thousands of rows
    return tuple(
        Outcome(
            home=row.home,
            workflow=once.setdefault(row.workflow, row.workflow),
            decision=Decision(row.decision),
            is_newest=row.newest,
            is_conceded=row.concession is not None,
            printer=once.setdefault(row.printer, row.printer),
            film_lot=once.setdefault(row.film_lot, row.film_lot),
            rules=tuple(dict.fromkeys(rules.get(row.id, ()))),
        )
        for row in found
    )


def lately(connection: Connection, site: str, since: datetime) -> Lately:
    """Return the verdicts filed since then, counted by the database."""
    conditions = _filed(site, since)
    given = (
        select(verdicts.c.workflow, verdicts.c.decision, func.count())
        .where(*conditions)
        .group_by(verdicts.c.workflow, verdicts.c.decision)
    )
    held_by = (
        select(findings.c.rule, func.count(distinct(findings.c.verdict_id)))
        .join(verdicts, verdicts.c.id == findings.c.verdict_id)
        .where(*conditions, findings.c.outcome.in_(_HOLDING))
        .group_by(findings.c.rule)
    )
    moments = select(verdicts.c.arrived_at, verdicts.c.filed_at).where(*conditions)
    took_s = array("d")
    for arrived, filed in connection.execute(moments, execution_options=_BY_TURNS):
        took_s.append((filed - arrived).total_seconds())
    return Lately(
        given={(row[0], row[1]): row[2] for row in connection.execute(given)},
        held_by={row[0]: row[1] for row in connection.execute(held_by)},
        median_s=median(took_s) if took_s else None,
        longest_s=max(took_s, default=None),
    )


def _filed(site: str, since: datetime) -> list[ColumnElement[bool]]:
    return [
        verdicts.c.site == site,
        verdicts.c.newest.in_([True, False]),  # both: only so the index of the newest serves here
        verdicts.c.filed_at >= since,
    ]
