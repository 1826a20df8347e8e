"""`gatekeeper` itself and its list of commands."""

from __future__ import annotations

import sys

import click

from gatekeeper import __version__
from gatekeeper.cli.base import run, site_option
from gatekeeper.cli.board import board
from gatekeeper.cli.completing import completion, manual
from gatekeeper.cli.curves import curve
from gatekeeper.cli.examining import doctor
from gatekeeper.cli.judging import check, why
from gatekeeper.cli.laying import blank, demo, init
from gatekeeper.cli.leading import recall, release
from gatekeeper.cli.looking import jobs
from gatekeeper.cli.recording import history
from gatekeeper.cli.registers import films, meters, printers
from gatekeeper.cli.ruling import rules
from gatekeeper.cli.servicing import service
from gatekeeper.cli.trending import trend
from gatekeeper.cli.working import run_daemon, sweep


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="gatekeeper", message="%(prog)s %(version)s")
@click.option("-v", "--verbose", is_flag=True, help="Say on standard error what is done.")
@site_option
def gatekeeper(verbose: bool) -> None:
    """Judge film negatives from their readings before a plate is exposed through them.

    A site is a folder with a site.yaml: --site DIR, else $GATEKEEPER_SITE, else the current folder,
    else /etc/gatekeeper.
    """
    from gatekeeper.logs.outlet import begin

    begin(is_verbose=verbose)


for command in (
    demo,
    init,
    run_daemon,
    sweep,
    check,
    why,
    release,
    recall,
    board,
    jobs,
    rules,
    trend,
    curve,
    meters,
    films,
    printers,
    blank,
    history,
    doctor,
    service,
    completion,
    manual,
):
    gatekeeper.add_command(command)


def main() -> None:
    """Run the command line."""
    sys.exit(run(gatekeeper))
