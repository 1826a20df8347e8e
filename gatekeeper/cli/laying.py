"""`init` and `demo`: a site of one's own, and one to look at."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import console, site_option, the_site
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.demo import Outcome


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Lay out a site in DIR, or add what an existing one lacks; what is there stays as it is."""
    from gatekeeper.filing.disk import Disk
    from gatekeeper.layout import lay_out

    site, made = lay_out(folder, Disk())
    if not made:
        click.echo(f"{folder} is complete: nothing was missing")
        return
    click.echo(f"{folder}: made {len(made)} files and folders")
    click.echo(f"""
next
  1  edit site.yaml: the room's name and its time zone
  2  edit workflows/, customers/ and register/; README.md there explains every key
  3  gatekeeper --site {folder} rules check
  4  gatekeeper --site {folder} run
  Sheets go to {site.drop}/<workflow>/.""")


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
def demo(folder: Path | None) -> None:
    """Build a demo plate room in DIR (demo-site), judge its jobs and show the result."""
    from gatekeeper.demo import run_demo

    _show(run_demo(folder or Path("demo-site")))


def _program() -> str:
    """Return how this program is called here: by its name where the shell finds it."""
    return "gatekeeper" if shutil.which("gatekeeper") else sys.argv[0]


def _show(outcome: Outcome) -> None:
    from gatekeeper.show.tables import JobRow, print_jobs

    jobs = outcome.newest()
    root = outcome.site.root
    click.echo(f"{outcome.site.name}: an invented plate room, laid out in {root}")
    click.echo(f"{len(outcome.filed)} sheets went through the gate; its {len(jobs)} jobs now:\n")
    words = {"held": "HELD"}
    rows = [
        JobRow(
            words.get(job.decision, job.decision), job.job, job.workflow, job.customer, job.reason
        )
        for job in jobs
    ]
    print_jobs(console(), rows)
    program = _program()
    first_held = next(job.job for job in jobs if job.decision == "held")
    click.echo(f"""
look further
  {program} --site {root} why {first_held}
  {program} --site {root} jobs --state held
  {program} --site {root} rules show --workflow liquid-plate
  ls {root}/approved/liquid-plate {root}/held/liquid-plate""")


@click.command()
@click.option(
    "--workflow", required=True, metavar="W", help="The workflow whose patches are asked for."
)
@click.option(
    "--customer", default="", metavar="C", help="The customer whose limits are laid over it."
)
@click.option("--job", default="", metavar="N", help="The job's number, filled in.")
@click.option("--xlsx", is_flag=True, help="A workbook with drop-down lists and number checks.")
@click.option(
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write here, to a new file; CSV goes to standard output without it.",
)
@site_option
def blank(workflow: str, customer: str, job: str, xlsx: bool, output: Path | None) -> None:
    """Write an empty typed sheet for a workflow: its own patches and required fields."""
    from gatekeeper.blank_sheet import blank_for
    from gatekeeper.readers.blank import blank_csv, blank_xlsx
    from gatekeeper.room import read_book
    from gatekeeper.rules.library import UnknownNameError
    from gatekeeper.wording import did_you_mean

    book = read_book(the_site())
    try:
        rules = book.library.effective(workflow, customer)
    except UnknownNameError as error:
        raise UsageError(
            f"no {error.kind} is called {error.name!r}", do=did_you_mean(error.name, error.known)
        ) from error
    sheet = blank_for(rules, book.register, job=job)
    if xlsx:
        _write_new(output or Path(f"{job or workflow}.xlsx"), blank_xlsx(sheet))
    elif output:
        _write_new(output, blank_csv(sheet).encode())
    else:
        click.echo(blank_csv(sheet), nl=False)


def _write_new(path: Path, content: bytes) -> None:
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError as error:
        raise UsageError(
            f"{path} is there already", do="name another file with --output"
        ) from error
    click.echo(f"wrote {path}")
