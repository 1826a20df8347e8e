"""`run` and `sweep`: the gate at work."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, console, json_option, leave, print_json, site_option, the_site

if TYPE_CHECKING:
    from gatekeeper.rounds.outlook import Outlook


@click.command("run")
@site_option
def run_daemon() -> None:
    """Watch the drop folders and judge what arrives, until stopped (SIGTERM, Ctrl-C)."""
    import logging

    from gatekeeper.logs.daemon import catch_last_words, write_to_file
    from gatekeeper.service import Service

    site = the_site()
    logging.getLogger("gatekeeper").setLevel(logging.INFO)
    write_to_file(site.settings.log, site.root)
    catch_last_words()
    Service(site).run()


@click.command()
@click.option(
    "--settle",
    "settle_s",
    type=click.FloatRange(min=0),
    metavar="S",
    help="Seconds a file must be at rest, in place of the site's own.",
)
@site_option
@json_option
def sweep(settle_s: float | None, as_json: bool) -> None:
    """Judge what lies in the drop folders once, then end.

    Exit status: 0 every job was filed, 1 something is left in the drop folders, 2 could not run.
    """
    from gatekeeper.clock import SystemClock
    from gatekeeper.record.refill import Refill
    from gatekeeper.record.rules_taken_up import tell_rules
    from gatekeeper.room import read_book
    from gatekeeper.rounds.sweeping import sweep_once
    from gatekeeper.show.progress import progress
    from gatekeeper.single import only_one
    from gatekeeper.workshop import rounds_of, teller_of

    site = the_site()
    book = read_book(site)
    with only_one(site.state, site.gate):
        rounds = rounds_of(site, SystemClock(), lambda: book, settle_s=settle_s)
        refill = Refill(site, rounds.ledger)
        refill.look()
        tell_rules(rounds.ledger, site.state, book.library)
        with progress("jobs filed") as told:
            outlook = sweep_once(rounds, told)
        refill.go()
        outlook.alarms += [refill.trouble] if refill.trouble else []
        rounds.ledger.history.close()
        teller = teller_of(site, rounds.disk)
        if teller:
            teller.go()  # what it cannot tell waits for the next sweep, or the daemon
            outlook.alarms += [teller.trouble] if teller.trouble else []
    if as_json:
        print_json(_as_data(outlook))
    else:
        _print(outlook)
    leave(Exit.OK if outlook.is_done else Exit.LOOK)


def _as_data(outlook: Outlook) -> object:
    from dataclasses import asdict

    return asdict(outlook)


def _print(outlook: Outlook) -> None:
    from gatekeeper.show.tables import JobRow, print_jobs

    rows = [
        JobRow(
            "HELD" if job.decision == "held" else job.decision,
            job.job,
            job.workflow,
            job.customer,
            job.reason,
        )
        for job in outlook.filed
    ]
    rows += [
        JobRow("waiting", entry.name, entry.folder, "", entry.reason) for entry in outlook.waiting
    ]
    print_jobs(console(), rows)
    for alarm in outlook.alarms:
        click.echo(f"ALARM: {alarm}", err=True)
