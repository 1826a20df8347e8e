"""Verdicts since a moment with the rules that held: what yields and reasons are counted from."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from sqlalchemy import select

from gatekeeper.history import answers
from gatekeeper.history.past import Outcome
from gatekeeper.history.schema import findings, verdicts
from gatekeeper.verdict import Outcome as Answer

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection

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
    found = select(verdicts).where(*conditions).order_by(verdicts.c.ticket)
    return tuple(
        Outcome(
            home=row.home,
            line=answers.job_line(row),
            rules=tuple(dict.fromkeys(rules[row.id])),
        )
        for row in connection.execute(found)
    )
