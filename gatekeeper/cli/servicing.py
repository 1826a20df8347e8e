"""`service`: the gate of a site as a service of systemd."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper import __version__
from gatekeeper.cli.base import site_option, the_site
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.installing.plan import Machine
    from gatekeeper.installing.steps import Step

name_option = click.option(
    "--name", metavar="NAME", help="Name behind the @; the site's folder gives it otherwise."
)
dry_run_option = click.option("--dry-run", is_flag=True, help="Say what would be done.")
root_option = click.option(
    "--root",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    default=Path("/"),
    metavar="DIR",
    help="A folder that stands for the machine: files are written there, nothing is run.",
)


@click.group()
@site_option
def service() -> None:
    """Make the gate of a site a service of this machine, or end that."""


@service.command()
@name_option
@click.option(
    "--program",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The command that the service runs; this one otherwise.",
)
@click.option("--bench", metavar="GROUP", help="Group that may drop sheets.")
@click.option("--leads", metavar="GROUP", help="Group that may lay down slips.")
@click.option(
    "--network/--no-network",
    default=None,
    help="Whether the daemon may use the network; as site.yaml needs it otherwise.",
)
@click.option("--board", is_flag=True, help="Show the board on the first console as well.")
@click.option("--start/--no-start", default=True, help="Whether to start it now.")
@dry_run_option
@root_option
@site_option
def install(
    name: str | None,
    program: Path | None,
    bench: str | None,
    leads: str | None,
    network: bool | None,
    board: bool,
    start: bool,
    dry_run: bool,
    root: Path,
) -> None:
    """Install the service of a site, or bring it up to date. Run again, it changes nothing."""
    from gatekeeper.cli.manual_page import manual_page
    from gatekeeper.installing.ownership import owner_steps
    from gatekeeper.installing.plan import Machine, to_install
    from gatekeeper.installing.request import request_for

    machine, site = Machine(root), the_site()
    request = request_for(
        site,
        root=root,
        name=name,
        program=program.absolute() if program else None,
        network=network,
        board=board,
        systemd=machine.systemd_version(),
    )
    owners = owner_steps(site, bench=bench, leads=leads) if machine.is_live else ()
    root_command = click.get_current_context().find_root().command
    steps = to_install(
        request,
        machine,
        owners,
        start=start,
        manual=manual_page(root_command, "gatekeeper", __version__),
    )
    _go(steps, machine, is_dry=dry_run)


@service.command()
@name_option
@dry_run_option
@root_option
@site_option
def uninstall(name: str | None, dry_run: bool, root: Path) -> None:
    """Stop the service of a site and take its files away. The site and the user stay."""
    from gatekeeper.installing.plan import Machine, to_uninstall
    from gatekeeper.installing.request import request_for

    machine = Machine(root)
    request = request_for(the_site(), root=root, name=name, program=Path("/nowhere"))
    _go(to_uninstall(request, machine), machine, is_dry=dry_run)


def _go(steps: list[Step], machine: Machine, *, is_dry: bool) -> None:
    if not steps:
        click.echo("nothing to do: it is so already")
        return
    if machine.is_live and not is_dry and os.geteuid() != 0:
        raise UsageError("only root can do this", do="run it with sudo, or add --dry-run to see it")
    for step in steps:
        click.echo(f"would {step.says}" if is_dry else step.says)
        if not is_dry:
            step.do()
