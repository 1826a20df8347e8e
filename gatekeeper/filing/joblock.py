"""One job is on one bench: a lock for each job, needed only where several gates work.

    held/.gatekeeper/jobs/<shelf>%<folder>        holds the id of the ticket that has the job

A lock outlives its gate, as its ticket does; whoever takes the ticket over has the lock. A lock
whose ticket is nowhere any more is nobody's.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from gatekeeper.filing import trouble
from gatekeeper.filing.claim import make_if_absent
from gatekeeper.filing.desk import DONE, WORK
from gatekeeper.filing.lease import JOBS, gates_in

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, JobName, Roots
    from gatekeeper.filing.disk import Disk

_LONGEST = 200


def lock_job(disk: Disk, desk: Desk, name: JobName) -> None:
    """Take the job for this ticket, where another gate could have it.

    Raises
    ------
    BehindError : another ticket has it
    """
    if not gates_in(disk, desk.roots.held, but=desk.roots.gate):
        return
    lock = _lock_of(desk.roots, name)
    for folder in (lock.parent.parent, lock.parent):
        make_if_absent(disk, desk.roots, folder)
    temporary = desk.bench.with_name(f"{desk.ticket.id}.lock{DONE}")
    disk.unlink(temporary)
    disk.write_new(temporary, desk.ticket.id.encode("ascii"))
    try:
        _take(disk, desk, name, lock, temporary)
    finally:
        with contextlib.suppress(OSError):
            disk.unlink(temporary)


def _take(disk: Disk, desk: Desk, name: JobName, lock: Path, temporary: Path) -> None:
    while True:
        try:
            disk.rename_new(temporary, lock)
        except FileExistsError:
            owner = _owner(disk, lock)
        else:
            disk.sync(lock.parent)
            return
        if owner == desk.ticket.id:
            return
        if owner and is_somewhere(disk, desk.roots, owner):
            raise trouble.earlier_first(name.job, owner)
        _clear(disk, desk.roots, lock, owner)


def clear_stale_locks(disk: Disk, roots: Roots) -> None:
    """Remove locks whose tickets are nowhere any more: a gate that woke up too late leaves one."""
    if not gates_in(disk, roots.held, but=roots.gate):
        return
    jobs = roots.held / WORK / JOBS
    for shelf in disk.names(jobs):
        for folder in disk.names(jobs / shelf):
            lock = jobs / shelf / folder
            owner = _owner(disk, lock)
            if owner and not is_somewhere(disk, roots, owner):
                _clear(disk, roots, lock, owner)


def _clear(disk: Disk, roots: Roots, lock: Path, owner: str) -> None:
    """Remove a stale lock; one that was put there meanwhile goes back."""
    stale = roots.benches / f"stale-lock{DONE}"
    disk.unlink(stale)
    with contextlib.suppress(FileNotFoundError):
        disk.rename_new(lock, stale)
    if _owner(disk, stale) not in {owner, ""}:
        with contextlib.suppress(FileExistsError):
            disk.rename_new(stale, lock)
    disk.unlink(stale)


def unlock_job(disk: Disk, desk: Desk, name: JobName) -> None:
    """Let the job go, if this ticket has it."""
    lock = _lock_of(desk.roots, name)
    if disk.lstat(lock) is not None and _owner(disk, lock) == desk.ticket.id:
        disk.unlink(lock)


def is_somewhere(disk: Disk, roots: Roots, ticket: str) -> bool:
    """Whether any gate has this ticket in work on any drop folder."""
    folders = [roots.drop, *(roots.drop / name for name in disk.names(roots.drop))]
    return any(
        disk.is_folder(folder / WORK / gate / ticket)
        for folder in folders
        if disk.is_folder(folder)
        for gate in (*gates_in(disk, folder, but=roots.gate), roots.gate)
    )


def _lock_of(roots: Roots, name: JobName) -> Path:
    return roots.held.joinpath(WORK, JOBS, name.shelf, name.folder)


def _owner(disk: Disk, lock: Path) -> str:
    try:
        return disk.read(lock, _LONGEST).decode("ascii", "replace")
    except FileNotFoundError:
        return ""  # let go in this moment
