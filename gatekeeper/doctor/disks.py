"""Whether the disks are one, have room, and tell when a file arrives."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.filing.disk import Disk
from gatekeeper.history.mounts import network_file_system
from gatekeeper.intake.scan import is_litter
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.doctor.interface import Ward
    from gatekeeper.site import Site

SLOW_SCAN_S = 60.0
"""A sheet on a share that lies unseen for longer than this makes people drop it again (s)."""

FEW_FILES = 5_000
"""File entries left on a disk, below which somebody should look: a job takes about ten."""


def filesystems(ward: Ward) -> Iterator[Answer]:
    """Look whether filing is one rename, or a copy between filesystems."""
    site = ward.site
    devices = {root.stat().st_dev for root in (site.drop, site.held, site.approved)}
    if len(devices) == 1:
        yield ok("filesystems", "drop, held and approved are one: filing is one rename")
    else:
        says = "drop, held and approved are not one: files are copied, flushed and then removed"
        yield ok("filesystems", says)


def space(ward: Ward) -> Iterator[Answer]:
    """Look at the room on each disk once."""
    seen: set[int] = set()
    for folder in _own_folders(ward.site):
        device = folder.stat().st_dev
        if device not in seen:
            seen.add(device)
            yield from _room_on(ward, folder)


def _own_folders(site: Site) -> Iterator[Path]:
    folders = (site.held, site.approved, site.drop, site.state, site.archive)
    return (folder for folder in folders if folder.is_dir())


def _room_on(ward: Ward, folder: Path) -> Iterator[Answer]:
    disk = os.statvfs(folder)
    free = disk.f_bavail * disk.f_frsize
    says = f"{free / 1e9:.1f} GB free at {plain(str(folder), 400)}"
    do = "make room: move old jobs to another disk, or give it a larger one"
    if free < ward.around.full_bytes:
        yield broken("space", f"{says}: nothing new is taken in", do)
    elif free < ward.around.filling_bytes:
        yield look("space", f"{says}: the disk is filling", do)
    elif disk.f_files and disk.f_favail < FEW_FILES:
        left = counted(disk.f_favail, "file")
        yield look("space", f"room for only {left} more at {plain(str(folder), 400)}", do)
    else:
        yield ok("space", says)


def shares(ward: Ward) -> Iterator[Answer]:
    """Look which folders lie on a share: nothing tells what other machines write there."""
    site, every_s = ward.site, ward.site.settings.rescan_s
    kinds: dict[str, list[str]] = {}
    for folder in _drop_folders(site):
        kind = network_file_system(folder, ward.around.mounts)
        kinds.setdefault(kind, []).append(folder.name)
    for kind, names in kinds.items():
        if not kind:
            continue
        says = (
            f"{', '.join(map(plain, names))} on a network share ({kind}), which does not tell of "
            f"what other machines write: looked at every {every_s:g} s instead"
        )
        if every_s > SLOW_SCAN_S:
            yield look("shares", says, "lower rescan_s in site.yaml, to 15 or so")
        else:
            yield ok("shares", says)
    kind = network_file_system(site.state, ward.around.mounts)
    if kind:
        says = f"{plain(str(site.state), 400)} lies on a network share ({kind})"
        do = "give `folders: state:` in site.yaml a local disk: a database on a share can be lost"
        yield broken("state", says, do)


def watches(ward: Ward) -> Iterator[Answer]:
    """Look whether the kernel lets the daemon watch all drop folders."""
    need = len(list(_drop_folders(ward.site)))
    settings = (("max_user_watches", need), ("max_user_instances", 1))
    for setting, wanted in settings:
        try:
            most = int((ward.around.inotify / setting).read_text("ascii"))
        except (OSError, ValueError):
            continue  # not a kernel that has it: then folders are scanned only
        if most < wanted:
            name = f"fs.inotify.{setting}"
            says = f"{name} is {most}, and {wanted} is needed: some folders are only scanned"
            yield look("inotify", says, f"raise it: sysctl {name}={max(8 * wanted, 128)}")
            return
    yield ok("inotify", f"{counted(need, 'folder')} to watch, within the kernel's limits")


def _drop_folders(site: Site) -> Iterator[Path]:
    yield site.drop
    disk = Disk()
    for name in disk.names(site.drop):
        if not is_litter(name, site.litter) and disk.is_folder(site.drop / name):
            yield site.drop / name
