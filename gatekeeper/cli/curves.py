"""`curve`: build a linearization curve from wedges, look at it, take it into use."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gatekeeper.cli.base import Exit, console, json_option, leave, print_json, site_option, the_site

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gatekeeper.care.curve_desk import CurveDesk
    from gatekeeper.control.curve import BuiltCurve


@click.group()
@site_option
def curve() -> None:
    """Build linearization curves from wedges, and take them into use."""


@curve.command("build")
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--workflow", default="", metavar="W", help="Workflow, where the sheet names none.")
@site_option
@json_option
def build_curve(files: tuple[Path, ...], workflow: str, as_json: bool) -> None:
    """Build a curve from one wedge sheet, or from several of the same printer and film.

    Nothing changes for the printer until the curve is accepted. Exit status: 0 built, 2 no curve.
    """
    from gatekeeper.control.curve_document import curve_document
    from gatekeeper.verdict import Outcome

    desk = _desk()
    built, findings = desk.build(files, workflow)
    if as_json:
        print_json(curve_document(built))
        return
    _print(_curve_lines(desk, built))
    for finding in findings:
        if finding.outcome is Outcome.NOTE:
            click.echo(f"\nNOTE  {finding.says}")
    click.echo(f'\ntake it into use: gatekeeper curve accept "{built.name}" --by NAME')


@curve.command("list")
@site_option
@json_option
def list_curves(as_json: bool) -> None:
    """List every curve: in use, waiting to be accepted, former."""
    from gatekeeper.control.tone_facts import tone_facts
    from gatekeeper.show.curves import list_lines

    known = _desk().known()
    if as_json:
        print_json(
            [
                {
                    "name": entry.curve.name,
                    "state": entry.state,
                    "workflow": entry.curve.workflow,
                    "printer": entry.curve.printer,
                    "stock": entry.curve.stock,
                    "resolution_dpi": entry.curve.resolution_dpi,
                    "ruling_lpi": entry.curve.ruling_lpi,
                    "made": entry.curve.made,
                    "mid_tone": entry.curve.mid_tone,
                    "predicted_mid_tone": entry.curve.predicted_mid_tone,
                    "error": entry.curve.error,
                    "accepted": entry.accepted.at.isoformat() if entry.accepted else None,
                    "accepted_by": entry.accepted.by if entry.accepted else None,
                }
                for entry in known
            ]
        )
        return
    rows = [
        (
            tone_facts(entry.curve, entry.state),
            f"{entry.accepted.at.date()} {entry.accepted.by}" if entry.accepted else "",
        )
        for entry in known
    ]
    _print(list_lines(rows))


@curve.command("show")
@click.argument("name")
@click.option(
    "--as",
    "form",
    type=click.Choice(["csv", "cgats", "text"]),
    help="Print the table alone: CSV, CGATS.17 text, or two columns to type from.",
)
@site_option
@json_option
def show_curve(name: str, form: str | None, as_json: bool) -> None:
    """Show a curve beside the curve in use; a part of its name is enough."""
    from gatekeeper.control.curve_document import curve_document
    from gatekeeper.control.curve_text import as_cgats, as_csv, as_typed_text

    desk = _desk()
    found = desk.find(name)
    if as_json:
        print_json(curve_document(found))
    elif form:
        write = {"csv": as_csv, "cgats": as_cgats, "text": as_typed_text}[form]
        click.echo(write(found), nl=False)
    else:
        _print(_curve_lines(desk, found))


@curve.command("accept")
@click.argument("name")
@click.option("--by", required=True, metavar="NAME", help="Who takes it into use.")
@site_option
def accept_curve(name: str, by: str) -> None:
    """Take a curve into use from today; a part of its name is enough.

    Its line is written into the register, and the age of the linearization counts from now.
    """
    desk = _desk()
    taken, file = desk.accept(name, by)
    click.echo(f"{taken.name} is in use from today ({file})")
    click.echo(f'type its table into the printer\'s software: gatekeeper curve show "{taken.name}"')
    leave(Exit.OK)


def _desk() -> CurveDesk:
    from gatekeeper.care.curve_desk import CurveDesk
    from gatekeeper.clock import SystemClock

    return CurveDesk(the_site(), SystemClock())


def _curve_lines(desk: CurveDesk, built: BuiltCurve) -> Iterable[str]:
    from gatekeeper.control.tone_facts import tone_facts
    from gatekeeper.show.curves import curve_lines

    state = next((entry.state for entry in desk.known() if entry.curve.name == built.name), "")
    return curve_lines(tone_facts(built, state))


def _print(lines: Iterable[str]) -> None:
    from gatekeeper.show.screen import words

    terminal = console()
    for line in lines:
        terminal.print(words(terminal, line), no_wrap=True, overflow="ignore", crop=False)
