"""`history`: verify, export, rebuild and back up the record."""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, json_option, leave, print_json, site_option, the_site
from gatekeeper.cli.sharing import rights, take_up, upgrade, write_out
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.history.query import Lookup
    from gatekeeper.history.record import History
    from gatekeeper.site import Site

LOST = (
    "What only the database knew is not in the job folders: when exactly each job was filed,\n"
    "events other than verdicts, and jobs whose folders were removed."
)


@click.group()
@site_option
def history() -> None:
    """Verify, export, rebuild and back up the history."""


history.add_command(upgrade)
history.add_command(rights)
history.add_command(take_up)


@history.command()
@click.option(
    "--head", default="", metavar="SHA256", help="Newest hash that a log or report shows."
)
@site_option
@json_option
def verify(head: str, as_json: bool) -> None:
    """Walk the audit chain and name the first event that was altered, removed or reordered.

    A chain does not show that its end was cut off: give the newest hash you know with --head.

    Exit status: 0 unbroken, 1 broken, 2 could not run.
    """
    with _lookup(the_site()) as past:
        report = past.verify(seen_sha256=head)
    if as_json:
        broken = report.broken
        at = {"sequence": broken.sequence, "says": broken.says} if broken else None
        print_json({"events": report.events, "head": report.head, "broken": at})
    elif report.broken:
        click.echo(f"broken at event {report.broken.sequence}: {report.broken.says}")
    else:
        click.echo(f"unbroken: {report.events} events, newest {report.head}")
    leave(Exit.LOOK if report.broken else Exit.OK)


@history.command()
@site_option
def rebuild() -> None:
    """Tell the history every verdict that lies in a job folder; what it knows already stays.

    To begin anew, move the database away first. The daemon may run meanwhile.
    """
    from gatekeeper.filing.disk import Disk
    from gatekeeper.record.rebuild import rebuild as rebuild_history
    from gatekeeper.room import declarations_of, read_book
    from gatekeeper.show.progress import progress
    from gatekeeper.wording import counted

    site = the_site()
    declarations = declarations_of(site, read_book(site).profiles)
    with _history(site) as record, progress("verdicts told") as told:
        done = rebuild_history(site, Disk(), record, declarations, told)
        record.is_filled()
    click.echo(f"{counted(done.verdicts, 'verdict')} found in the job folders and told")
    for name in done.unreadable:
        click.echo(f"cannot be read: {name}", err=True)
    click.echo(LOST)
    leave(Exit.LOOK if done.unreadable else Exit.OK)


@history.command()
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
@site_option
def backup(target: Path) -> None:
    """Write a consistent copy of the history to a new FILE; the daemon may run meanwhile."""
    if target.exists():
        raise UsageError(f"{target} is there already", do="name a new file")
    with _history(the_site()) as record:
        record.backup(target.absolute())
    click.echo(f"wrote {target}")


@history.command()
@click.option(
    "--since", default="", metavar="WHEN", help="Since a date (2026-11-20) or a span (7d)."
)
@click.option(
    "--to",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Write every table into a new folder instead, for `history import` and other tools.",
)
@click.option(
    "--form",
    type=click.Choice(["csv", "parquet"]),
    default="csv",
    show_default=True,
    help="Of the files in that folder.",
)
@site_option
def export(since: str, folder: Path | None, form: str) -> None:
    """Print the newest verdict of every job as CSV; no cell begins a formula."""
    from gatekeeper.cli.spans import since_moment
    from gatekeeper.clock import SystemClock

    if folder is not None:
        if since:
            raise UsageError("a whole history has no --since", do="leave --since or --to out")
        write_out(folder, form)
        return
    site = the_site()
    start = since_moment(since, site, SystemClock().now()) if since else None
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(_COLUMNS)
    with _lookup(site) as past:
        for line in past.jobs(since=start, limit=None):
            cells = (getattr(line, name) for name in _COLUMNS)
            writer.writerow([_cell(value) for value in cells])


_COLUMNS = (
    "site", "job", "workflow", "customer", "decision", "was", "reason", "arrived_at", "filed_at",
    "printer", "film_lot", "meter", "rules_fingerprint", "measurements", "ticket", "folder",
    "program",
)  # fmt: skip
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def _cell(value: object) -> str:
    """Return a cell; a text that a spreadsheet would take for a formula gets a quote in front."""
    text = value.isoformat() if hasattr(value, "isoformat") else str(value)
    return f"'{text}" if text.startswith(_FORMULA_SIGNS) else text


def _lookup(site: Site) -> Lookup:
    from gatekeeper.clock import SystemClock
    from gatekeeper.workshop import lookup_of

    return lookup_of(site, SystemClock())


def _history(site: Site) -> History:
    from gatekeeper.clock import SystemClock
    from gatekeeper.workshop import history_of

    return history_of(site, SystemClock())
