"""`history upgrade` and `history rights`: for a history that several plate rooms share."""

from __future__ import annotations

import click

from gatekeeper.cli.base import site_option, the_site
from gatekeeper.errors import UsageError


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
