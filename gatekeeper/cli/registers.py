"""`meters`, `films`, `printers`: what the room owns, and what of it is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from gatekeeper.cli.base import Exit, console, json_option, leave, print_json, site_option, the_site
from gatekeeper.cli.metrology import list_checks, list_doubts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from gatekeeper.care.register_desk import RegisterDesk
    from gatekeeper.care.registers import Kind

Command = Any

_METER = {
    "calibrated": "Day of its certificate, such as 2026-09-01.",
    "uncertainty": "Expanded uncertainty of a density, k = 2, from the certificate.",
    "filter": "Spectral response as ISO 5-3 names it: visual, UV, blue.",
    "serial": "Serial number.",
    "interval_days": "Time for which the certificate is good, in days.",
    "tablet": "Certified density of a step of its reference tablet, as A=0.05; once a step.",
    "tablet_uncertainty": "Expanded uncertainty of those densities, k = 2.",
    "note": "Anything a person should know.",
}
_LOT = {
    "stock": "Its film stock, from the register.",
    "made": "Day of manufacture.",
    "received": "Day of delivery.",
    "opened": "Day on which the pack was opened.",
    "expires": "Last day of use, from the label.",
    "width_mm": "Width of the roll, in mm.",
    "length_m": "Length of the roll when it was new, in m.",
    "length_per_film_m": "What one negative usually takes of it, in m.",
    "note": "Anything a person should know.",
}
_PRINTER = {
    "resolution_dpi": "A resolution that it prints, in dpi; once a resolution.",
    "head_changed": "Day on which a print head was changed; added to those on record.",
    "note": "Anything a person should know.",
}
_SEVERAL = frozenset({"tablet", "resolution_dpi", "head_changed"})


def _options(helps: dict[str, str]) -> Callable[[Command], Command]:
    def decorate(command: Command) -> Command:
        for name, words in reversed(helps.items()):
            flag = f"--{name.replace('_', '-')}"
            several = name in _SEVERAL
            command = click.option(flag, name, multiple=several, help=words)(command)
        return command

    return decorate


@click.group()
@site_option
def meters() -> None:
    """Densitometers: certificates, uncertainties, reference tablets."""


@click.group()
@site_option
def films() -> None:
    """Film lots, by the number on the box."""


@click.group()
@site_option
def printers() -> None:
    """Film printers and changes of their heads."""


@meters.command("add")
@click.argument("name")
@_options(_METER)
@site_option
def add_meter(name: str, **given: str | tuple[str, ...] | None) -> None:
    """Enter a new meter."""
    from gatekeeper.care.registers import METERS

    _edit("add", METERS, name, given)


@meters.command("set")
@click.argument("name")
@_options(_METER)
@site_option
def set_meter(name: str, **given: str | tuple[str, ...] | None) -> None:
    """Change what stands in the register about a meter, such as a new certificate's date."""
    from gatekeeper.care.registers import METERS

    _edit("change", METERS, name, given)


@films.command("add")
@click.argument("lot")
@_options(_LOT)
@click.option("--kind", help="For a stock that is new too: ink film or silver film.")
@click.option("--thickness-mil", help="Its thickness, in mil.")
@site_option
def add_film(
    lot: str, kind: str | None, thickness_mil: str | None, **given: str | tuple[str, ...] | None
) -> None:
    """Enter a new film lot; with --kind its stock too."""
    from gatekeeper.care.registers import LOTS, STOCKS

    if kind is not None and isinstance(given["stock"], str):
        _edit("add", STOCKS, given["stock"], {"kind": kind, "thickness_mil": thickness_mil})
    _edit("add", LOTS, lot, given)


@films.command("set")
@click.argument("lot")
@_options(_LOT)
@site_option
def set_film(lot: str, **given: str | tuple[str, ...] | None) -> None:
    """Change what stands in the register about a lot, such as the day it was opened."""
    from gatekeeper.care.registers import LOTS

    _edit("change", LOTS, lot, given)


@printers.command("add")
@click.argument("name")
@_options(_PRINTER)
@site_option
def add_printer(name: str, **given: str | tuple[str, ...] | None) -> None:
    """Enter a new printer."""
    from gatekeeper.care.registers import PRINTERS

    _edit("add", PRINTERS, name, given)


@printers.command("set")
@click.argument("name")
@_options(_PRINTER)
@site_option
def set_printer(name: str, **given: str | tuple[str, ...] | None) -> None:
    """Change what stands in the register about a printer, such as a change of its head."""
    from gatekeeper.care.registers import PRINTERS

    _edit("change", PRINTERS, name, given)


def _listing(group: click.Group, kind_name: str, subject: str) -> None:
    """Give a group its commands `list` and `due`."""

    @group.command("list")
    @site_option
    @json_option
    def list_entries(as_json: bool) -> None:
        """List what the register holds."""
        from gatekeeper.care import registers
        from gatekeeper.screens.inventory import inventory
        from gatekeeper.show.registers import entry_lines

        kind: Kind = getattr(registers, kind_name)
        rows = inventory(the_site(), kind)
        if as_json:
            print_json([row.as_data() for row in rows])
        else:
            _print(entry_lines(rows, kind.noun))

    @group.command("due")
    @site_option
    @json_option
    def list_dues(as_json: bool) -> None:
        """List what runs out, the earliest first.

        Exit status: 0 nothing has run out, 1 something has, 2 could not run.
        """
        from gatekeeper.screens.inventory import dues
        from gatekeeper.show.registers import due_lines

        rows = dues(the_site(), subject)
        if as_json:
            print_json([row.as_data() for row in rows])
        else:
            _print(due_lines(rows))
        leave(Exit.LOOK if any(row.days_left < 0 for row in rows) else Exit.OK)


_listing(meters, "METERS", "meter ")
meters.add_command(list_checks)
meters.add_command(list_doubts)
_listing(films, "LOTS", "film lot ")
_listing(printers, "PRINTERS", "curve of ")


def _edit(what: str, kind: Kind, name: str, given: dict[str, str | tuple[str, ...] | None]) -> None:
    from gatekeeper.care import registers
    from gatekeeper.clock import SystemClock

    site = the_site()
    stated = {key: value for key, value in given.items() if value}
    desk = _desk(site.root)
    file = getattr(registers, what)(desk, kind, name, stated)
    document = {
        "file": file,
        "what": what,
        "given": {key: list(_words(value)) for key, value in stated.items()},
    }
    registers.tell(site, SystemClock(), f"{kind.noun} {name}", document)
    click.echo(f"{kind.noun} {name}: {file}")


def _words(value: str | tuple[str, ...]) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else value


def _desk(root: Any) -> RegisterDesk:  # noqa: ANN401 -- a path; its import would be for the type alone
    from gatekeeper.care.register_desk import RegisterDesk
    from gatekeeper.filing.disk import Disk

    return RegisterDesk(root, Disk())


def _print(lines: Iterable[str]) -> None:
    from gatekeeper.show.screen import words

    terminal = console()
    for line in lines:
        terminal.print(words(terminal, line), no_wrap=True, overflow="ignore", crop=False)
