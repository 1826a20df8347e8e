"""Which files systemd needs for a site, and what stands in them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.bundled import bundled
from gatekeeper.installing.request import HOMES, TEMPORARY

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.installing.request import Request

UNITS = Path("/etc/systemd/system")
WANTS = UNITS / "multi-user.target.wants"

MANUAL = Path("/usr/local/share/man/man1/gatekeeper.1")
COMMAND = Path("/usr/local/bin/gatekeeper")

USUAL_PROGRAM = "/opt/gatekeeper/bin/gatekeeper"
USUAL_SITES = Path("/srv/gatekeeper")

GROWING_PAUSES = 254
"""The version of systemd that lets the pauses between restarts grow."""


@dataclass(frozen=True, slots=True)
class WantedFile:
    """A file, whole."""

    path: Path
    content: str


def shared_files(request: Request) -> Iterator[WantedFile]:
    """Yield what all sites of a machine share."""
    yield WantedFile(UNITS / "gatekeeper@.service", _unit("gatekeeper@.service", request))
    yield WantedFile(Path("/etc/sysusers.d/gatekeeper.conf"), _text("sysusers.conf"))
    yield WantedFile(Path("/etc/tmpfiles.d/gatekeeper.conf"), _text("tmpfiles.conf"))
    if request.systemd >= GROWING_PAUSES:
        folder = UNITS / "gatekeeper@.service.d"
        yield WantedFile(folder / "back-off.conf", _text("back-off.conf"))
    if request.has_board:
        name = "gatekeeper-board@.service"
        yield WantedFile(UNITS / name, _unit(name, request))


def own_files(request: Request) -> Iterator[WantedFile]:
    """Yield what this site needs beside that."""
    folder = UNITS / f"{request.unit}.d"
    if request.site != USUAL_SITES / request.name or request.outside:
        yield WantedFile(folder / "site.conf", _site_lines(request))
    if request.has_network:
        yield WantedFile(folder / "network.conf", _text("network.conf"))
    if request.has_board and request.site != USUAL_SITES / request.name:
        folder = UNITS / f"{request.board}.d"
        yield WantedFile(folder / "site.conf", _board_lines(request))


def links(request: Request) -> Iterator[tuple[Path, Path]]:
    """Yield the command on everybody's path and what starts a service at boot, with their ends."""
    if request.program != COMMAND:
        yield COMMAND, request.program
    yield WANTS / request.unit, UNITS / "gatekeeper@.service"
    if request.has_board:
        yield WANTS / request.board, UNITS / "gatekeeper-board@.service"


def _text(name: str) -> str:
    return (bundled("systemd") / name).read_text(encoding="utf-8")


def _unit(name: str, request: Request) -> str:
    return _text(name).replace(f"={USUAL_PROGRAM} ", f"={_word(request.program)} ")


def _site_lines(request: Request) -> str:
    site, outside = request.site, request.outside
    lines = [
        f"# Where the site of {request.unit} lies. Written by `gatekeeper service install`.",
        "[Unit]",
        f"RequiresMountsFor={_item(site)}",
        "AssertPathExists=",
        f"AssertPathExists={_plain(site / 'site.yaml')}",
        "[Service]",
        "ExecStart=",
        f"ExecStart={_word(request.program)} run --site {_word(site)}",
        "ReadWritePaths=",
        f"ReadWritePaths={_item(site)}",
    ]
    if outside:
        lines.append(
            "# Folders of the site that lie elsewhere; a share may be absent at the start."
        )
    lines += [f"ReadWritePaths={_item(path, '-')}" for path in outside]
    lines += _loosened((site, *outside))
    return "\n".join(lines) + "\n"


def _board_lines(request: Request) -> str:
    site = request.site
    state = next((path for path in request.folders if path.name == "state"), site / "state")
    lines = [
        f"# Where the site of {request.board} lies. Written by `gatekeeper service install`.",
        "[Unit]",
        f"RequiresMountsFor={_item(site)}",
        "[Service]",
        "ExecStart=",
        f"ExecStart={_word(request.program)} board --site {_word(site)}",
        "ReadWritePaths=",
        f"ReadWritePaths={_item(state)}",
        *_loosened((site, state)),
    ]
    return "\n".join(lines) + "\n"


def _loosened(places: tuple[Path, ...]) -> Iterator[str]:
    for line, hidden, what in (
        ("ProtectHome=no", HOMES, "a home folder"),
        ("PrivateTmp=no", TEMPORARY, "the folder of temporary files"),
    ):
        if any(place.is_relative_to(folder) for place in places for folder in hidden):
            yield f"# Looser than usual: part of the site lies in {what}."
            yield line


def _plain(path: Path) -> str:
    """Return a path as a whole line has it: only % means something there."""
    return str(path).replace("%", "%%")


def _item(path: Path, prefix: str = "") -> str:
    """Return a path as one of a list of paths."""
    text = prefix + _plain(path)
    if not set(text) & set(" \"'\\;"):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _word(path: Path) -> str:
    """Return a path as one word of a command line."""
    return _item(Path(str(path).replace("$", "$$")))
