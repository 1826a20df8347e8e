"""Where the example site, the demo's sheets and the units are: in the wheel, or beside it."""

from __future__ import annotations

from pathlib import Path

from gatekeeper.errors import RoomError

_PACKAGE = Path(__file__).resolve().parent


def bundled(name: str) -> Path:
    """Return the folder `config`, `examples` or `systemd`.

    Raises
    ------
    RoomError : the installation lacks it
    """
    for place in (_PACKAGE / "bundled" / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise RoomError(
        f"this installation lacks its folder {name!r}",
        where=str(_PACKAGE),
        do="install gatekeeper again",
    )
