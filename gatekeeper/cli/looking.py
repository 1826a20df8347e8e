"""`jobs`: what became of the jobs, and what waits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import console, json_option, print_json, site_option, the_site
from gatekeeper.cli.spans import since_moment

if TYPE_CHECKING:
    from gatekeeper.history.past import JobLine
    from gatekeeper.show.tables import JobRow
    from gatekeeper.site import Site


@click.command()
@click.option(
    "--state", type=click.Choice(["approved", "held", "waiting"]), help="Only jobs in this state."
)
@click.option(
    "--since", metavar="WHEN", help="Only jobs filed since a date (2026-11-20) or a span (7d, 12h)."
)
@click.option("--workflow", metavar="W", help="Only this workflow.")
@click.option("--customer", metavar="C", help="Only this customer.")
@click.option(
    "--limit", type=click.IntRange(min=1), default=100, show_default=True, help="At most so many."
)
@site_option
@json_option
def jobs(
    state: str | None,
    since: str | None,
    workflow: str | None,
    customer: str | None,
    limit: int,
    as_json: bool,
) -> None:
    """List jobs, the newest first, and what waits in the drop folders."""
    from gatekeeper.show.tables import print_jobs

    site = the_site()
    filed = () if state == "waiting" else _filed(site, state, since, workflow, customer, limit)
    # Nobody knows the customer of a sheet that has not been read.
    waiting = [] if state in {"approved", "held"} or customer else _waiting(site, workflow)
    if as_json:
        print_json([*({**_line(line)} for line in filed), *waiting])
        return
    rows: list[JobRow] = [_row(line) for line in filed] + [_waiting_row(entry) for entry in waiting]
    print_jobs(console(), rows)


def _filed(
    site: Site,
    state: str | None,
    since: str | None,
    workflow: str | None,
    customer: str | None,
    limit: int,
) -> tuple[JobLine, ...]:
    from gatekeeper.clock import SystemClock
    from gatekeeper.history import NoHistoryYetError
    from gatekeeper.verdict import Decision
    from gatekeeper.workshop import lookup_of

    clock = SystemClock()
    start = since_moment(since, site, clock.now()) if since else None
    with lookup_of(site, clock) as history:
        try:
            return history.jobs(
                state=Decision(state) if state else None,
                since=start,
                workflow=workflow,
                customer=customer,
                limit=limit,
            )
        except NoHistoryYetError:
            return ()


def _waiting(site: Site, workflow: str | None) -> list[dict[str, object]]:
    from gatekeeper.screens.waiting import waiting_now

    return [
        {"state": "waiting", "job": entry.name, "workflow": entry.folder, "reason": entry.reason}
        for entry in waiting_now(site)
        if workflow in {None, entry.folder}
    ]


def _line(line: JobLine) -> dict[str, object]:
    return {
        "state": line.decision.value,
        "job": line.job,
        "workflow": line.workflow,
        "customer": line.customer,
        "reason": line.reason,
        "was": line.was,
        "arrived": line.arrived_at.isoformat(),
        "filed": line.filed_at.isoformat(),
        "printer": line.printer,
        "film_lot": line.film_lot,
        "meter": line.meter,
        "rules_fingerprint": line.rules_fingerprint,
        "folder": line.folder,
        "measurements": line.measurements,
        "ticket": line.ticket,
    }


def _row(line: JobLine) -> JobRow:
    from gatekeeper.show.tables import JobRow

    held = line.decision.value == "held"
    reason = line.reason if held else "every limit met"
    return JobRow("HELD" if held else "approved", line.job, line.workflow, line.customer, reason)


def _waiting_row(entry: dict[str, object]) -> JobRow:
    from gatekeeper.show.tables import JobRow

    return JobRow("waiting", str(entry["job"]), str(entry["workflow"]), "", str(entry["reason"]))
