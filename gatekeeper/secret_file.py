"""A password from a file of its own: site.yaml may be read by everybody, so none stands in it."""

from __future__ import annotations

import stat
from typing import TYPE_CHECKING, Final

from gatekeeper.errors import RoomError

if TYPE_CHECKING:
    from pathlib import Path

_LONGEST: Final = 1_000


def read_secret(path: Path) -> str:
    """Return the file's first line.

    Raises
    ------
    RoomError : others than its owner may read it, or it holds none
    OSError : it cannot be read
    """
    refuse_others(path)
    with path.open(encoding="utf-8", errors="strict") as file:
        return file.readline(_LONGEST).rstrip("\r\n")


def refuse_others(path: Path) -> None:
    """Raise unless only the file's owner may read or write it.

    Raises
    ------
    RoomError : others may
    OSError : it cannot be looked at
    """
    if path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise RoomError(
            f"others than the daemon's user may read the password in {path}",
            do=f"chmod 600 {path}",
        )
