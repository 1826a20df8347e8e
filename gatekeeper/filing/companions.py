"""A companion that comes late is the one change to a filed folder: one more name, by one rename."""

from __future__ import annotations

import errno
from typing import TYPE_CHECKING

from gatekeeper.filing.copying import copy_file, same_file
from gatekeeper.filing.desk import JobName, Roots
from gatekeeper.filing.folder import is_ours
from gatekeeper.filing.names import numbered

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.tickets import Identity


def filed_folder(disk: Disk, roots: Roots, workflow: str, job: str) -> Path | None:
    """Return the filed folder of a job, None while there is none."""
    name = JobName(job, workflow, "")
    for root in (roots.approved, roots.held):
        if disk.is_folder(name.target(root)):
            return name.target(root)
    return None


def join(disk: Disk, drop_folder: Path, file: Identity, target: Path) -> str:
    """Bring a companion into a filed job folder and return its name there.

    Across filesystems it is copied beside the target, flushed, renamed in, and only then removed
    from drop; cut before the removal, the next round finds the same bytes there and only removes
    the original.
    """
    source = drop_folder / file.name
    number = 1
    while True:
        place = target / numbered(file.own_name, number)
        number += 1
        if is_ours(place.name):
            continue
        if disk.lstat(place) is None:
            break
        if same_file(disk, source, place):
            disk.unlink(source)
            return place.name
    try:
        disk.rename_new(source, place)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        temporary = target.parent / f".gatekeeper-{file.inode}.tmp"
        disk.unlink(temporary)
        copy_file(disk, source, temporary)
        disk.rename_new(temporary, place)
        disk.sync(target)
        disk.unlink(source)
    disk.sync(target)
    disk.sync(source.parent)
    return place.name
