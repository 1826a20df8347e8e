"""`jobs`: what became of the jobs, and what waits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import (
    console,
    json_option,
    print_json,
    room_options,
    site_option,
    the_site,
)
from gatekeeper.cli.known import as_known
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
@room_options
@site_option
@json_option
def jobs(
    state: str | None,
    since: str | None,
    workflow: str | None,
    customer: str | None,
    limit: int,
    rooms: tuple[str, ...],
    all_rooms: bool,
    as_json: bool,
) -> None:
    """List jobs, the newest first, and what waits in the drop folders."""
    from gatekeeper.show.tables import print_jobs

    site = the_site()
    asked = _Asked(state, since, workflow, customer, limit)
    asked = _as_known(site, asked, rooms, all_rooms=all_rooms)
    found = [] if state == "waiting" else _filed(site, asked, rooms, all_rooms=all_rooms)
    filed = found[:limit]
    # Nobody knows the customer of a sheet that has not been read.
    waiting = [] if state in {"approved", "held"} or customer else _waiting(site, asked.workflow)
    if as_json:
        print_json([*({**_line(line)} for line in filed), *waiting])
        return
    several = len({line.site for line in filed}) > 1
    rows: list[JobRow] = [_row(line, several=several) for line in filed]
    rows += [_waiting_row(entry) for entry in waiting]
    print_jobs(console(), rows)
    if len(found) > limit:
        click.echo(f"older jobs are left out: --limit {10 * limit} lists more")


@dataclass(frozen=True, slots=True)
class _Asked:
    """What narrows the list."""

    state: str | None
    since: str | None
    workflow: str | None
    customer: str | None
    limit: int


def _filed(site: Site, asked: _Asked, rooms: tuple[str, ...], *, all_rooms: bool) -> list[JobLine]:
    from gatekeeper.clock import SystemClock
    from gatekeeper.history import NoHistoryYetError
    from gatekeeper.screens.lookback import rooms_named
    from gatekeeper.verdict import Decision
    from gatekeeper.workshop import lookup_of

    clock = SystemClock()
    start = since_moment(asked.since, site, clock.now()) if asked.since else None
    found: list[JobLine] = []
    try:
        for room in rooms_named(site, clock, rooms, everything=all_rooms):
            with lookup_of(site, clock, room=room) as history:
                found += history.jobs(
                    state=Decision(asked.state) if asked.state else None,
                    since=start,
                    workflow=asked.workflow,
                    customer=asked.customer,
                    limit=asked.limit + 1,  # one more shows that there are more
                )
    except NoHistoryYetError:
        return []
    found.sort(key=lambda line: (line.filed_at, line.ticket), reverse=True)
    return found


def _as_known(site: Site, asked: _Asked, rooms: tuple[str, ...], *, all_rooms: bool) -> _Asked:
    """Return what narrows the list with names as rules or history know them.

    Raises
    ------
    UsageError : neither knows a name: an empty list would mislead
    """
    from dataclasses import replace

    from gatekeeper.room import read_book
    from gatekeeper.screens.waiting import waiting_now
    from gatekeeper.shelf_names import RESERVED

    if asked.workflow is None and asked.customer is None:
        return asked
    library = read_book(site).library
    if library.broken_files:
        return asked  # a name may stand in one of them
    nothing = _Asked(None, None, None, None, 1)

    def has_jobs(found: _Asked) -> bool:
        return bool(_filed(site, found, rooms, all_rooms=all_rooms))

    def is_workflow(name: str) -> bool:
        waits = any(entry.folder == name for entry in waiting_now(site))
        return waits or has_jobs(replace(nothing, workflow=name))

    def is_customer(name: str) -> bool:
        return has_jobs(replace(nothing, customer=name))

    workflows = [*library.workflows, *RESERVED]
    customers = [entry.name for entry in library.customers.values()]
    return replace(
        asked,
        workflow=as_known("workflow", asked.workflow, workflows, is_workflow),
        customer=as_known("customer", asked.customer, customers, is_customer),
    )


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
        "room": line.site,
        "job": line.job,
        "workflow": line.workflow,
        "customer": line.customer,
        "reason": line.reason,
        "concession": line.concession,
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


def _row(line: JobLine, *, several: bool) -> JobRow:
    from gatekeeper.show.tables import JobRow

    held = line.decision.value == "held"
    conceded = "every limit met" if line.concession is None else f"concession: {line.concession}"
    reason = line.reason if held else conceded
    job = f"{line.job} ({line.site})" if several else line.job
    return JobRow("HELD" if held else "approved", job, line.workflow, line.customer, reason)


def _waiting_row(entry: dict[str, object]) -> JobRow:
    from gatekeeper.show.tables import JobRow

    return JobRow("waiting", str(entry["job"]), str(entry["workflow"]), "", str(entry["reason"]))
