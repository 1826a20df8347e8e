"""`init` and `demo`: a site of one's own, and one to look at."""

from __future__ import annotations

from pathlib import Path

import click

from gatekeeper.cli.base import console


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Lay out a site in DIR, or add what an existing one lacks. Nothing that is there is changed."""
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
    """Build a demo plate room in DIR (demo-site), run its jobs through the gate and show the result."""
    from gatekeeper.demo import run_demo

    run_demo(folder or Path("demo-site"), console())
