"""What is to be installed: which site, under which name, with what."""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError
from gatekeeper.history_settings import is_on_server

if TYPE_CHECKING:
    from gatekeeper.site import Site

HOMES = tuple(map(Path, ("/home", "/root", "/run/user")))
TEMPORARY = tuple(map(Path, ("/tmp", "/var/tmp")))  # noqa: S108 -- named, not used

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,60}")


@dataclass(frozen=True, slots=True)
class Request:
    """One site as a service.

    Paths are those of the machine that is to run it: with a scratch root, inside it.
    """

    name: str  # behind the @
    site: Path
    folders: tuple[Path, ...]  # of the site, those outside it too
    program: Path
    has_network: bool = False
    has_board: bool = False
    systemd: int = 0  # its version, 0 where it is not known

    @property
    def unit(self) -> str:
        """The service."""
        return f"gatekeeper@{self.name}.service"

    @property
    def board(self) -> str:
        """The board's service."""
        return f"gatekeeper-board@{self.name}.service"

    @property
    def outside(self) -> tuple[Path, ...]:
        """Folders of the site that lie elsewhere."""
        return tuple(path for path in self.folders if not path.is_relative_to(self.site))


def request_for(
    site: Site,
    *,
    root: Path,
    name: str | None,
    program: Path | None,
    network: bool | None = None,
    board: bool = False,
    systemd: int = 0,
) -> Request:
    """Return the request for a site.

    Parameters
    ----------
    root : the machine's root, or a folder that stands for it
    name : behind the @; the name of the site's folder where none is stated
    program : the command; that of this very installation where none is stated
    network : whether the daemon needs one; as site.yaml says where it is not stated

    Raises
    ------
    UsageError : it cannot run like that
    """
    settings = site.settings
    folders = (site.drop, site.approved, site.held, site.state, site.archive)
    wants_network = bool(settings.mail) or is_on_server(settings.history)
    return Request(
        name=_checked_name(name or site.root.resolve().name),
        site=_checked_path(inside(site.root, root)),
        folders=tuple(_checked_path(inside(folder, root)) for folder in folders),
        program=_checked_program(program),
        has_network=wants_network if network is None else network,
        has_board=board,
        systemd=systemd,
    )


def inside(path: Path, root: Path) -> Path:
    """Return how the machine below `root` calls a path."""
    whole, top = path.resolve(), root.resolve()
    return Path("/") / whole.relative_to(top) if whole.is_relative_to(top) else whole


def _checked_name(name: str) -> str:
    if _NAME.fullmatch(name):
        return name
    raise UsageError(
        f"{name!r} cannot be the name of a service",
        do="state another with --name: letters, digits, _ . and -",
    )


def _checked_path(path: Path) -> Path:
    """Refuse what a unit file cannot name."""
    if any(not character.isprintable() for character in str(path)):
        raise UsageError(f"{str(path)!r} cannot stand in a unit file", do="rename that folder")
    return path


def _checked_program(stated: Path | None) -> Path:
    program = stated or Path(sys.executable).parent / "gatekeeper"
    own = () if stated else (Path(sys.base_prefix),)
    for path in (program, *own):
        if any(path.is_relative_to(home) for home in HOMES):
            raise UsageError(
                "a service cannot run a program that lies in somebody's home",
                where=str(path),
                do="install gatekeeper in /opt/gatekeeper, as systemd/README.md says",
            )
    return _checked_path(program)
