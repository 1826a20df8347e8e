"""Who owns a site's folders: the permissions are the access control."""

from __future__ import annotations

import grp
import pwd
import stat
from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError
from gatekeeper.filing.desk import WORK
from gatekeeper.installing.steps import Own
from gatekeeper.shelf_names import CONCESSIONS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.site import Site

USER = "gatekeeper"

BENCH_MODE = 0o2775  # the group's bit lets new files belong to the group
LEADS_MODE = 0o2770


def group_id(name: str) -> int:
    """Return the number of a group.

    Raises
    ------
    UsageError : there is none of that name
    """
    try:
        return grp.getgrnam(name).gr_gid
    except KeyError as error:
        raise UsageError(f"there is no group {name!r}", do=f"make it: groupadd {name}") from error


def owner_steps(site: Site, *, bench: str | None, leads: str | None) -> Iterator[Own]:
    """Yield what gives each folder to whom it belongs.

    Parameters
    ----------
    bench : group that may drop sheets; none: as it is
    leads : group that may lay down slips; none: as it is
    """
    uid = _user_id()
    for root in (site.approved, site.held, site.state, site.archive):
        if root.is_dir():
            done = all(path.lstat().st_uid == uid for path in (root, *root.iterdir()))
            yield Own(root, ("chown", "-R", f"{USER}:{USER}"), done)
    for folder in _drop_folders(site):
        yield Own(folder, ("chown", USER), folder.stat().st_uid == uid)
        if folder.name == CONCESSIONS and leads:
            yield from _group(folder, leads, LEADS_MODE)
        elif folder.name not in {CONCESSIONS, WORK} and bench:
            yield from _group(folder, bench, BENCH_MODE)


def _user_id() -> int | None:
    try:
        return pwd.getpwnam(USER).pw_uid
    except KeyError:
        return None  # systemd-sysusers makes it first


def _drop_folders(site: Site) -> Iterator[Path]:
    """Yield drop, the folders in it, and the work folder of each."""
    inner = sorted(path for path in site.drop.iterdir() if path.is_dir() and path.name != WORK)
    for folder in (site.drop, *inner):
        yield folder
        if (folder / WORK).is_dir():
            yield folder / WORK


def _group(folder: Path, group: str, mode: int) -> Iterator[Own]:
    found = folder.stat()
    yield Own(folder, ("chgrp", group), found.st_gid == group_id(group))
    yield Own(folder, ("chmod", f"{mode:o}"), stat.S_IMODE(found.st_mode) == mode)
