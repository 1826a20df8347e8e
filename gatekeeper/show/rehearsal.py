"""What edited rules would have done to the past, for people and programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.verdict import Decision
from gatekeeper.wording import counted, plain, shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.control.shares import Share
    from gatekeeper.trying.candidates import Candidates
    from gatekeeper.trying.rehearsal import Changed, Rehearsal

MOST_JOBS = 50
"""Jobs that are listed; programs get all of them."""


def rehearsal_lines(found: Rehearsal) -> Iterator[str]:
    """Yield the counts, the rules that make the difference, and the jobs."""
    if not found.jobs:
        yield "no job of the past is meant: nothing to try the rules on"
        return
    held, approved = found.to(Decision.HELD), found.to(Decision.APPROVED)
    was_approved = found.before.whole - found.before.part
    yield f"judged again: {counted(found.jobs, 'job')}, each by its newest verdict"
    yield f"would have been held      {len(held)} of {was_approved} that the rules approved"
    yield f"would have been approved  {len(approved)} of {found.before.part} that the rules held"
    yield f"held before  {_percent(found.before)}"
    yield f"to expect    {_percent(found.after)}"
    if found.by_rule:
        yield ""
        yield "by rule"
        for rule, jobs in found.by_rule.items():
            yield f"  {plain(rule)}  {counted(jobs, 'job')}"
        yield ""
        yield "jobs"
        for entry in found.changed[:MOST_JOBS]:
            yield f"  {_job(entry)}"
        if len(found.changed) > MOST_JOBS:
            yield f"  and {len(found.changed) - MOST_JOBS} more; --json lists them all"


def _job(entry: Changed) -> str:
    job = entry.job
    whose = ", ".join(plain(word) for word in (job.workflow, job.customer) if word)
    arrow = "approved -> HELD" if entry.after is Decision.HELD else "held -> approved"
    return f"{plain(job.job)} ({whose})  {arrow}  {', '.join(map(plain, entry.rules))}"


def _percent(share: Share) -> str:
    if not share.whole:
        return "of no job"
    part = 100 * share.part / share.whole
    return f"{part:.1f} % of jobs (95 %: {100 * share.lower:.1f} to {100 * share.upper:.1f} %)"


def candidate_lines(table: Candidates) -> Iterator[str]:
    """Yield the table of one limit."""
    yield f"{table.rule} ({table.unit})" if table.unit else table.rule
    yield f"  {'limit':>8}  {'jobs held':>9}  share"
    for row in table.rows:
        yield f"  {shortest(row.limit):>8}  {row.held.part:>9}  {_percent(row.held)}"


def rehearsal_data(found: Rehearsal) -> dict[str, object]:
    """Return everything for other programs."""
    return {
        "jobs": found.jobs,
        "held_before": _share_data(found.before),
        "held_after": _share_data(found.after),
        "judged_by_checks": found.judged_by_checks,
        "by_rule": found.by_rule,
        "changed": [
            {
                "job": entry.job.job,
                "workflow": entry.job.workflow,
                "customer": entry.job.customer,
                "ticket": entry.job.ticket,
                "after": entry.after.value,
                "rules": list(entry.rules),
            }
            for entry in found.changed
        ],
    }


def candidate_data(table: Candidates) -> dict[str, object]:
    """Return the table for other programs."""
    return {
        "rule": table.rule,
        "unit": table.unit,
        "worst": table.worst,
        "best": table.best,
        "limits": [{"limit": row.limit, **_share_data(row.held)} for row in table.rows],
    }


def _share_data(share: Share) -> dict[str, float | int | None]:
    return {
        "held": share.part,
        "jobs": share.whole,
        "share": share.fraction,
        "lower": share.lower,
        "upper": share.upper,
    }
