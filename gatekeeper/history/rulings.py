"""Which rules were in force, found by a moment or by the beginning of a fingerprint."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from gatekeeper.history.past import RuleSet, RulesInForce
from gatekeeper.history.schema import rule_sets, verdicts

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import Connection, Row


def in_force(
    connection: Connection, site: str, *, workflow: str, customer: str, moment: datetime
) -> RulesInForce | None:
    """Return the rules of the last verdict that was filed by a moment, None where there is none."""
    found: list[Row[Any]] = []
    for newest in (True, False):  # one walk down an index each: it begins with this column
        query = (
            select(verdicts.c.job, verdicts.c.filed_at, verdicts.c.ticket, rule_sets)
            .join(
                rule_sets,
                (rule_sets.c.site == verdicts.c.site)
                & (rule_sets.c.fingerprint == verdicts.c.rules_fingerprint),
            )
            .where(
                verdicts.c.site == site,
                verdicts.c.newest == newest,
                verdicts.c.workflow == workflow,
                func.coalesce(verdicts.c.customer, "") == customer,
                verdicts.c.filed_at <= moment,
            )
            .order_by(verdicts.c.filed_at.desc(), verdicts.c.ticket.desc())
            .limit(1)
        )
        found += connection.execute(query)
    if not found:
        return None
    last = max(found, key=lambda row: (row.filed_at, row.ticket))
    rules = RuleSet(last.fingerprint, last.text, last.first_seen)
    return RulesInForce(rules, last.job, last.filed_at)


def beginning_with(connection: Connection, site: str, start: str) -> tuple[RuleSet, ...]:
    """Return the rules whose fingerprint begins so, at most two."""
    query = (
        select(rule_sets)
        .where(rule_sets.c.site == site, rule_sets.c.fingerprint.startswith(start, autoescape=True))
        .order_by(rule_sets.c.fingerprint)
        .limit(2)
    )
    return tuple(
        RuleSet(row.fingerprint, row.text, row.first_seen) for row in connection.execute(query)
    )
