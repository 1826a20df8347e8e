"""Is a folder really there? An empty mount point is not an empty folder; only the marker tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.desk import SITE_ID, WORK

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Roots
    from gatekeeper.filing.disk import Disk

_LONGEST_NAME = 4_000


class OfflineError(RoomError):
    """A root folder is away, or another site's: jobs wait, nothing is concluded from absence."""


def require_online(disk: Disk, roots: Roots, site: str) -> None:
    """Raise `OfflineError` unless drop, approved and held all carry this site's marker."""
    for root in (roots.drop, roots.approved, roots.held):
        require_marked(disk, root, site)


def require_marked(disk: Disk, root: Path, site: str) -> None:
    """Raise `OfflineError` unless the folder carries this site's marker."""
    marker = root / WORK / SITE_ID
    if not site:
        raise OfflineError(
            "the site itself has no mark yet: its folders cannot be told from a stranger's",
            do="run `gatekeeper init` on the site; it changes nothing that is there",
        )
    try:
        found = disk.read(marker, _LONGEST_NAME).decode("utf-8", "replace").strip()
    except OSError as error:
        raise OfflineError(
            f"{root} is away: its marker cannot be read ({error.strerror})",
            where=str(marker),
            do="mount the share again; for a new or moved folder run `gatekeeper init` on the site",
        ) from error
    if found != site:
        raise OfflineError(
            f"{root} belongs to the site {found!r}, not to {site!r}",
            where=str(marker),
            do="correct `folders` in site.yaml, or mount the right share",
        )
