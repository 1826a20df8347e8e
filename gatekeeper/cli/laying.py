"""`init` and `demo`: a site of one's own, and one to look at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import console

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
    first_held = next(job.job for job in jobs if job.decision == "held")
    click.echo(f"""
look further
  gatekeeper --site {root} why {first_held}
  gatekeeper --site {root} jobs --state held
  gatekeeper --site {root} rules show --workflow liquid-plate
  ls {root}/approved/liquid-plate {root}/held/liquid-plate""")
