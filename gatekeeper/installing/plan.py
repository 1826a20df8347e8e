"""What is to be done on the machine, in order; nothing where all is done already."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.installing import unit_files
from gatekeeper.installing.steps import Link, Remove, Run, Step, Write

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gatekeeper.installing.request import Request

SYSUSERS = ("systemd-sysusers", "/etc/sysusers.d/gatekeeper.conf")
TMPFILES = ("systemd-tmpfiles", "--create", "/etc/tmpfiles.d/gatekeeper.conf")
RELOAD = ("systemctl", "daemon-reload")


@dataclass(frozen=True, slots=True)
class Machine:
    """The machine itself, or a folder that stands for it and where nothing runs."""

    root: Path = Path("/")

    @property
    def is_live(self) -> bool:
        """Whether it is this machine."""
        return self.root.resolve() == Path("/")

    def place(self, path: Path) -> Path:
        """Return where a path of the machine is."""
        return self.root / path.relative_to("/")

    def systemd_version(self) -> int:
        """Return the version of systemd, 0 where it is not there."""
        program = shutil.which("systemctl")
        if program is None:
            return 0
        said = subprocess.run(  # noqa: S603 -- no shell, no foreign word
            [program, "--version"], capture_output=True, text=True, check=False, timeout=10
        )
        found = re.match(r"systemd (\d+)", said.stdout)
        return int(found[1]) if found else 0

    def is_active(self, unit: str) -> bool:
        """Whether a service is at work."""
        program = shutil.which("systemctl")
        if program is None:
            return False
        asked = [program, "is-active", "--quiet", unit]
        return subprocess.run(asked, check=False, timeout=10).returncode == 0  # noqa: S603


def to_install(
    request: Request,
    machine: Machine,
    owners: Iterable[Step],
    *,
    start: bool,
    manual: str = "",
) -> list[Step]:
    """Return what is left to do for the site to be a service.

    Parameters
    ----------
    owners : what gives the site's folders to whom they belong
    start : whether it is started, beside being started at each boot
    manual : the manual page; none: it is left out
    """
    files = [
        Write(machine.place(file.path), file.content)
        for file in (*unit_files.shared_files(request), *unit_files.own_files(request))
    ]
    if manual:
        files.append(Write(machine.place(unit_files.MANUAL), manual))
    stale = _no_longer_wanted(request, machine, {file.path for file in files})
    links = [
        Link(machine.place(path), to)
        for path, to in unit_files.links(request)
        if not _is_foreign(machine.place(path))
    ]
    wanted: list[Step] = [*files, *stale, *links]
    units = [step for step in wanted if not step.is_done()]
    if not machine.is_live:
        return units
    users: list[Step] = [Run(SYSUSERS), Run(TMPFILES)] if _has_new_users(units) else []
    return [
        *units,
        *users,
        *(step for step in owners if not step.is_done()),
        *_started(request, machine, has_changed=bool(units), start=start),
    ]


def to_uninstall(request: Request, machine: Machine) -> list[Step]:
    """Return what is left to do for the site to be no service; the site itself stays as it is."""
    wants = (unit_files.WANTS / unit for unit in (request.board, request.unit))
    removals: list[Step] = [Remove(machine.place(path)) for path in wants]
    for folder in (f"{request.unit}.d", f"{request.board}.d"):
        removals += [
            Remove(machine.place(unit_files.UNITS / folder / name), with_folder=True)
            for name in ("site.conf", "network.conf")
        ]
    if not _others(request, machine):
        removals += [
            Remove(machine.place(path), with_folder=path.name == "back-off.conf")
            for path in _shared_paths()
            if path != unit_files.COMMAND or not _is_foreign(machine.place(path))
        ]
    left = [step for step in removals if not step.is_done()]
    if not left or not machine.is_live:
        return left
    units = [unit for unit in (request.board, request.unit) if machine.is_active(unit)]
    return [*(Run(("systemctl", "stop", unit)) for unit in units), *left, Run(RELOAD)]


def _is_foreign(path: Path) -> bool:
    """Whether somebody has put a program of another kind where a link of ours would be."""
    return path.exists() and not path.is_symlink()


def _shared_paths() -> list[Path]:
    units = unit_files.UNITS
    return [
        units / "gatekeeper@.service",
        units / "gatekeeper@.service.d/back-off.conf",
        units / "gatekeeper-board@.service",
        Path("/etc/sysusers.d/gatekeeper.conf"),
        Path("/etc/tmpfiles.d/gatekeeper.conf"),
        unit_files.MANUAL,
        unit_files.COMMAND,
    ]


def _others(request: Request, machine: Machine) -> list[str]:
    """Return the other sites that are services of this machine."""
    wants = machine.place(unit_files.WANTS)
    found = sorted(path.name for path in wants.glob("gatekeeper@*.service"))
    return [name for name in found if name != request.unit]


def _no_longer_wanted(request: Request, machine: Machine, wanted: set[Path]) -> list[Remove]:
    folder = machine.place(unit_files.UNITS / f"{request.unit}.d")
    ours = (folder / name for name in ("site.conf", "network.conf"))
    return [Remove(path, with_folder=True) for path in ours if path not in wanted]


def _has_new_users(units: list[Step]) -> bool:
    return any("sysusers.d" in step.says or "tmpfiles.d" in step.says for step in units)


def _started(request: Request, machine: Machine, *, has_changed: bool, start: bool) -> list[Step]:
    units = (request.unit, request.board) if request.has_board else (request.unit,)
    return [
        *([Run(RELOAD)] if has_changed else []),
        *(
            Run(("systemctl", "restart", unit))
            for unit in units
            if start and (has_changed or not machine.is_active(unit))
        ),
    ]
