"""A companion that comes late is the one change to a filed folder: one more name, by one rename."""

from __future__ import annotations

import errno
import logging
from typing import TYPE_CHECKING

from gatekeeper.filing.copying import copy_file, same_file
from gatekeeper.filing.desk import DONE, JobName, Roots
from gatekeeper.filing.laying import free_names
from gatekeeper.filing.names import shelf_name
from gatekeeper.filing.spelling import known_folder
from gatekeeper.rules.job_ticket import CAME_LATE, is_ticket
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk

log = logging.getLogger(__name__)


def filed_folder(disk: Disk, roots: Roots, workflow: str, job: str) -> Path | None:
    """Return the filed folder of a job, None while there is none."""
    name = JobName(job, workflow, known_folder(disk, roots, shelf_name(workflow), job))
    for root in (roots.approved, roots.held):
        if disk.is_folder(name.target(root)):
            return name.target(root)
    return None


def join_late(disk: Disk, roots: Roots, source: Path, job_folder: Path) -> None:
    """Bring a companion that was dropped after its sheet was filed, and say so."""
    name = join(disk, roots, source, job_folder)
    words = f"; this job ticket {CAME_LATE}" if is_ticket(name) else ""
    log.info("late companion %s joined %s%s", plain(name), job_folder, words)


def join(disk: Disk, roots: Roots, source: Path, job_folder: Path) -> str:
    """Bring a companion into a filed job folder and return its name there.

    Across filesystems it is copied beside the target, flushed, renamed in, and only then removed;
    cut before the removal, the next round finds the same bytes there and only removes the original.
    """
    disk.sync_file(source)
    names = free_names(source.name)
    while True:
        place = job_folder / next(names)
        if disk.lstat(place) is None:
            break
        if same_file(disk, source, place):
            disk.sync(job_folder)  # it may be ours, of a start that was cut before this
            disk.unlink(source)
            disk.sync(source.parent)
            return place.name
    try:
        disk.rename_new(source, place)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        _copy_in(disk, roots, source, place)
    disk.sync(job_folder)
    disk.sync(source.parent)
    return place.name


def _copy_in(disk: Disk, roots: Roots, source: Path, place: Path) -> None:
    beside = roots.landings if place.is_relative_to(roots.approved) else roots.benches
    temporary = beside / f"late-companion{DONE}"
    disk.unlink(temporary)
    copy_file(disk, source, temporary)
    disk.rename_new(temporary, place)
    disk.sync(place.parent)
    disk.unlink(source)
