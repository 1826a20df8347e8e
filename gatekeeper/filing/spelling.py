"""Which folder a job has when its number is spelled in another way than at first.

Jobs whose spellings differ only in case or Unicode form are one job, and a share that folds case
would make one folder of them anyway. The spelling that came first names the folder; a small file
named by the key leads every later spelling to it, so that no folder of a million names is listed:

    held/.gatekeeper/spellings/<shelf>/<key>        holds the folder's name

Numbers without letters have one spelling and need no such file.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from gatekeeper.filing.desk import WORK
from gatekeeper.filing.names import folder_name, job_of, key_of
from gatekeeper.filing.trouble import damaged

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Roots
    from gatekeeper.filing.disk import Disk

SPELLINGS = "spellings"
_LONGEST = 1_000


def known_folder(disk: Disk, roots: Roots, shelf: str, job: str) -> str:
    """Return the folder name of a job, as its first spelling gave it; looks only."""
    own, key = folder_name(job), folder_name(key_of(job))
    if own == key and not _has_case(key):
        return own
    noted = _noted(disk, _place(roots, shelf) / key)
    if noted:
        return noted
    places = (root / shelf for root in (roots.approved, roots.held))
    stands = [name for place in places for name in (own, key) if disk.is_folder(place / name)]
    return stands[0] if stands else own


def settle_folder(disk: Disk, roots: Roots, shelf: str, job: str, *, temporary: Path) -> str:
    """Return the folder name of a job, and note it for other spellings if there can be any.

    Parameters
    ----------
    temporary : a name beside the benches that a restart throws away
    """
    name = known_folder(disk, roots, shelf, job)
    key = folder_name(key_of(job))
    place = _place(roots, shelf)
    entry = place / key
    if (name == key and not _has_case(key)) or disk.lstat(entry) is not None:
        return name
    for folder in (place.parent, place):
        if not disk.is_folder(folder):
            with contextlib.suppress(FileExistsError):  # another gate was quicker
                disk.make_folder(folder)
    # Of those that were there as well: a kill may have come before.
    disk.sync(place.parent.parent, place.parent)
    disk.unlink(temporary)
    disk.write_new(temporary, name.encode("utf-8", "surrogateescape"))
    try:
        disk.rename_new(temporary, entry)
    except FileExistsError:
        disk.unlink(temporary)
    disk.sync(entry.parent)
    return _noted(disk, entry) or name


def _place(roots: Roots, shelf: str) -> Path:
    return roots.held.joinpath(WORK, SPELLINGS, shelf)


def _has_case(key: str) -> bool:
    return key.upper() != key


def _noted(disk: Disk, entry: Path) -> str:
    """Return the folder name that an entry holds, empty where there is no entry."""
    try:
        name = disk.read(entry, _LONGEST).decode("utf-8", "surrogateescape")
    except FileNotFoundError:
        return ""
    job = job_of(name)
    if job is not None and folder_name(key_of(job)) != entry.name:
        raise damaged(entry.name, entry)
    if not name or "/" in name or name.startswith("."):
        raise damaged(entry.name, entry)
    return name
