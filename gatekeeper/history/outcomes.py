"""Verdicts since a moment with the rules that held: what yields and reasons are counted from."""

from __future__ import annotations

from collections import defaultdict
from operator import attrgetter
from typing import TYPE_CHECKING

from sqlalchemy import select

from gatekeeper.history import answers
from gatekeeper.history.past import Outcome
from gatekeeper.history.schema import findings, verdicts
from gatekeeper.verdict import Outcome as Answer

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection

_ticket = attrgetter("ticket")
_HOLDING = (Answer.HOLD.value, Answer.NOT_JUDGED.value)


def outcomes(
    connection: Connection, site: str, since: datetime, workflow: str | None
) -> tuple[Outcome, ...]:
    """Return the verdicts filed since then, of each job in the order in which they were given."""
    conditions = [
        verdicts.c.site == site,
        verdicts.c.newest.in_([True, False]),  # both: only so the index of the newest serves here
        verdicts.c.filed_at >= since,
    ]
    if workflow is not None:
        conditions.append(verdicts.c.workflow == workflow)
    held = (
        select(findings.c.verdict_id, findings.c.rule)
        .join(verdicts, verdicts.c.id == findings.c.verdict_id)
        .where(*conditions, findings.c.outcome.in_(_HOLDING))
        .order_by(findings.c.verdict_id, findings.c.position)
    )
    rules: defaultdict[int, list[str]] = defaultdict(list)
    for row in connection.execute(held):
        rules[row.verdict_id].append(row.rule)
    # Sorted here: asked for this order, SQLite walks all tickets of the site and looks at the date
    # of each; at a million jobs that took ten times as long.
    found = sorted(connection.execute(select(verdicts).where(*conditions)), key=_ticket)
    return tuple(
        Outcome(
            home=row.home,
            line=answers.job_line(row),
            rules=tuple(dict.fromkeys(rules[row.id])),
        )
        for row in found
    )
