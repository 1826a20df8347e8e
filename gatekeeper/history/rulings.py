"""Which rules were in force, found by a moment or by the beginning of a fingerprint."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from gatekeeper.history.canonical import utc_text
from gatekeeper.history.interface import EventKind
from gatekeeper.history.past import RuleSet, RulesInForce
from gatekeeper.history.schema import events, rule_sets, verdicts

if TYPE_CHECKING:
    from sqlalchemy import Connection, Row


Pair = tuple[str, str]
"""Workflow, customer; the customer is empty for jobs that name none."""


def in_force(
    connection: Connection, site: str, pair: Pair, moment: datetime
) -> RulesInForce | None:
    """Return the rules that were shown last, by a moment, to be in force; None where none were."""
    ways = (_taken_up, _judged_by)
    shown = [found for way in ways if (found := way(connection, site, pair, moment))]
    return max(shown, key=lambda found: found.filed_at, default=None)


def _judged_by(
    connection: Connection, site: str, pair: Pair, moment: datetime
) -> RulesInForce | None:
    """Return the rules of the last verdict that was filed by a moment."""
    workflow, customer = pair
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
                rule_sets.c.text.not_like("%(ticket)%"),  # those of one job are not those of all
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


def _taken_up(
    connection: Connection, site: str, pair: Pair, moment: datetime
) -> RulesInForce | None:
    """Return the rules that the gate had taken up by a moment.

    Walks the events backwards to the newest that tells of this workflow and customer.
    """
    query = (
        select(events.c.at, events.c.document)
        .where(
            events.c.site == site,
            events.c.kind == EventKind.RULES.value,
            events.c.at <= utc_text(moment),
        )
        .order_by(events.c.sequence.desc())
    )
    with connection.execute(query, execution_options={"yield_per": 100}) as found:
        for at, document in found:
            for entry in json.loads(document).get("taken_up", ()):
                if (entry["workflow"], entry["customer"]) == pair:
                    since = datetime.fromisoformat(at)
                    rules = RuleSet(entry["fingerprint"], entry["text"], since)
                    return RulesInForce(rules, "", since)
    return None


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
