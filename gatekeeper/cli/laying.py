"""`init` and `demo`: a site of one's own, and one to look at."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import console, site_option, the_site
from gatekeeper.errors import UsageError

if TYPE_CHECKING:
    from gatekeeper.demo.live import Morning
    from gatekeeper.demo.week import Outcome
    from gatekeeper.rounds.outlook import FiledJob


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Lay out a site in DIR, or add what an existing one lacks; what is there stays as it is.

    Only schemas/, which editors read, follows the program: run it again after an update.
    """
    from gatekeeper.filing.disk import Disk
    from gatekeeper.layout import lay_out

    site, made = lay_out(folder, Disk())
    if not made:
        click.echo(f"{folder} is complete: nothing was missing")
        return
    click.echo(f"{folder}: made {len(made)} files and folders")
    typed = shlex.quote(str(folder))
    click.echo(f"""
next
  1  edit site.yaml: the room's name and its time zone
  2  edit workflows/, customers/ and register/; README.md there explains every key
  3  gatekeeper --site {typed} rules check
  4  gatekeeper --site {typed} run
  Sheets go to {site.drop}/<workflow>/.""")


@click.command()
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option("--live", is_flag=True, help="Let the jobs arrive one by one, and look on.")
@click.option(
    "--pace",
    "pace_s",
    type=click.FloatRange(min=0),
    default=4.0,
    show_default=True,
    metavar="S",
    help="Seconds from one job to the next, with --live.",
)
def demo(folder: Path | None, live: bool, pace_s: float) -> None:
    """Build a demo plate room in DIR (demo-site), judge its jobs and show the result.

    With --live the board follows on a terminal, until q; in a pipe each job is a line.
    """
    root = folder or Path("demo-site")
    if live:
        _play(root, pace_s)
        return
    from gatekeeper.demo.week import run_demo

    _show(run_demo(root))


def _play(root: Path, pace_s: float) -> None:
    from gatekeeper.cli.board import is_screen
    from gatekeeper.demo.live import Morning

    morning = Morning(root, pace_s=pace_s)
    if is_screen():
        _play_on_board(morning)
    else:
        morning.play(lambda job: click.echo(_told(job)), stays=False)
    _show(morning.outcome)


def _play_on_board(morning: Morning) -> None:
    """Show the board in this thread, which has the keys, and play in another."""
    from threading import Thread

    from gatekeeper.cli.board import show_board
    from gatekeeper.clock import SystemClock
    from gatekeeper.screens.watching import Watching

    player = Thread(target=morning.play, args=(lambda _: None,), kwargs={"stays": True})
    watching = Watching(morning.site, SystemClock())
    player.start()
    try:
        show_board(watching.facts)
    finally:
        morning.stop()
        player.join()
        watching.close()


def _told(job: FiledJob) -> str:
    word = "HELD" if job.decision == "held" else job.decision
    return f"{word:<9} {job.job:<6} {job.workflow:<13} {job.reason}"


def _program() -> str:
    """Return how this program is called here: by its name where the shell finds it."""
    import shutil

    return "gatekeeper" if shutil.which("gatekeeper") else shlex.quote(sys.argv[0])


def _charts(command: str, outcome: Outcome) -> str:
    """Return where the weeks before show, for a demo that had them."""
    if not outcome.before:
        return ""
    return f"""
{outcome.before} sheets of the three weeks before: a printer crept up, a wedge brought it back,
and a meter failed its check
  {command} trend --printer P2 --since 2026-11-01 --all
  {command} curve show P2
  {command} meters checks T-09
  {command} meters doubt
"""


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
    first_held = next((job.job for job in jobs if job.decision == "held"), "1044")
    page = outcome.site.root.absolute() / "state" / "page" / "index.html"
    command = f"{program} --site {shlex.quote(str(root))}"
    filed = " ".join(
        shlex.quote(str(root / shelf / "liquid-plate")) for shelf in ("approved", "held")
    )
    click.echo(
        f"""
look further
  {command} board
  {command} why {first_held}
  {command} jobs --state held
  {command} rules show --workflow liquid-plate
  ls {filed}
  {page.as_uri()}
{_charts(command, outcome)}""".rstrip()
    )


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
    from gatekeeper.room import read_book, rules_of

    site = the_site()
    book = read_book(site)
    sheet = blank_for(rules_of(book, workflow, customer), book.register, job=job)
    if not xlsx and not output:
        click.echo(blank_csv(sheet), nl=False)
        return
    path = output or Path(f"{job or workflow}.xlsx")
    if path.resolve().is_relative_to(site.drop.resolve()):
        raise UsageError(
            f"{path} lies in a drop folder: the gate would take the empty sheet and hold it",
            do="write it elsewhere, type the readings in, and move it there when it is complete",
        )
    _write_new(path, blank_xlsx(sheet) if xlsx else blank_csv(sheet).encode())


def _write_new(path: Path, content: bytes) -> None:
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError as error:
        raise UsageError(
            f"{path} is there already", do="name another file with --output"
        ) from error
    click.echo(f"wrote {path}")
