"""`history import`, `upgrade` and `rights`: a history that moves, or that several rooms share."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import site_option, the_site
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.history.carrying import Form


@click.command()
@click.option(
    "--copied", is_flag=True, help="The server's database was copied, and every room is ready."
)
@site_option
def upgrade(copied: bool) -> None:
    """Bring the history's tables to this program's version; one that is there already stays.

    A file is copied first, beside itself, as the daemon does at its start. A database that several
    rooms share is upgraded by nobody but you: once every room has the new program, and `pg_dump`
    has copied it.
    """
    from gatekeeper.clock import SystemClock
    from gatekeeper.history_settings import is_on_server
    from gatekeeper.workshop import history_of

    site = the_site()
    if is_on_server(site.settings.history) and not copied:
        raise UsageError(
            "the history lies on a server that other rooms may share",
            do="copy it with pg_dump, see that every room has this program, then add --copied",
        )
    with history_of(site, SystemClock(), may_upgrade=True) as record:
        done = record.upgrade()
    if done.found == done.version:
        click.echo(f"the history is of version {done.version}: nothing to do")
        return
    click.echo(f"the history is of version {done.version} now, it was of version {done.found}")
    if done.copy:
        click.echo(f"as it was before: {done.copy}, beside it")


@click.command()
@click.option("--gate", default="", metavar="ROLE", help="Account that gates record with.")
@click.option("--reader", default="", metavar="ROLE", help="Account that may read, and only read.")
def rights(gate: str, reader: str) -> None:
    """Print the SQL that gives accounts of a PostgreSQL server what they need, and no more.

    For the owner of the tables: gatekeeper history rights --gate room --reader lead | psql plates
    """
    from gatekeeper.history.rights import for_gate, for_reader

    if not gate and not reader:
        raise UsageError("no account was named", do="add --gate ROLE, --reader ROLE or both")
    if gate == reader:
        raise UsageError("one account cannot be both", do="name two roles")
    for line in (*(for_gate(gate) if gate else ()), *(for_reader(reader) if reader else ())):
        click.echo(line)


@click.command("import")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path, file_okay=False))
@site_option
def take_up(folder: Path) -> None:
    """Take up what `history export --to DIR` has written, whole or not at all.

    The audit chain must hold from its first event to its last, and the site must have no history
    where it goes: move the file away first, or name an empty database in site.yaml.
    """
    from gatekeeper.clock import SystemClock
    from gatekeeper.history.carrying import about_of
    from gatekeeper.show.progress import progress
    from gatekeeper.workshop import history_of

    about = about_of(folder)
    form = form_of(str(about["form"]))
    with (
        history_of(the_site(), SystemClock(), begins=False) as record,
        progress("rows taken up") as told,
    ):
        taken = record.carry_in(folder, about, form, told)
        record.is_filled()
    click.echo(f"taken up: {taken['verdicts']} verdicts, {taken['events']} events, chain unbroken")


def write_out(folder: Path, name: str) -> None:
    """Write the whole history into a new folder; it appears whole or not at all."""
    from gatekeeper.clock import SystemClock
    from gatekeeper.show.progress import progress
    from gatekeeper.workshop import lookup_of

    if folder.exists():
        raise UsageError(f"{folder} is there already", do="name a new folder")
    form, fresh = form_of(name), folder.with_name(f"{folder.name}.new")
    fresh.mkdir()
    try:
        with lookup_of(the_site(), SystemClock()) as past, progress("rows written") as told:
            written = past.carry_out(fresh, form, told)
        fresh.rename(folder)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    click.echo(f"wrote {folder}: {written['verdicts']} verdicts, {written['events']} events")


def form_of(name: str) -> Form:
    """Return the kind of file; Parquet needs the extra of that name."""
    from gatekeeper.history import delimited_tables, trouble

    if name == delimited_tables.ending:
        return delimited_tables
    try:
        from gatekeeper.history import parquet_tables
    except ImportError as error:
        raise trouble.no_parquet(str(error)) from error
    return parquet_tables
