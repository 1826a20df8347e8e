"""What to do about an error of the operating system: its own words only say what is wrong."""

from __future__ import annotations

import contextlib
import errno
import os
import pwd
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Callable

_LONGEST = 200
_WORK = ".gatekeeper"

_SERVER_AWAY = "the server of that share does not answer: see to it and to the network"

MAKE_ROOM = "make room on that disk"
MOUNT_ANEW = "it is mounted read-only: see to the disk (dmesg tells more), then mount it anew"

_ADVICE = {
    errno.ENOSPC: MAKE_ROOM,
    errno.EDQUOT: "make room: that user's share of the disk is used up",
    errno.EROFS: MOUNT_ANEW,
    errno.EIO: "the disk failed: dmesg tells more; copy off what is on it",
    errno.EMFILE: "raise the limit of open files (LimitNOFILE= in the unit)",
    errno.ENFILE: "raise the kernel's limit of open files (fs.file-max)",
    errno.ENOTCONN: _SERVER_AWAY,
    errno.ESTALE: _SERVER_AWAY,
    errno.EHOSTDOWN: _SERVER_AWAY,
    errno.ETIMEDOUT: _SERVER_AWAY,
}


def error_of(call: Callable[[], object]) -> OSError | None:
    """Call, and return the system's error instead of raising it; None where there was none."""
    try:
        call()
    except OSError as error:
        return error
    return None


def advice(error: OSError) -> str:
    """Return what to do about an error, "" where nothing general can be said."""
    if error.errno in {errno.EACCES, errno.EPERM}:
        return _permission(error)
    return _ADVICE.get(error.errno or 0, "")


def place_of(error: OSError) -> str:
    """Return what a person needs to see to: the same for every job that meets one fault.

    Of a move the folder that refuses, or lies on the disk that does, is meant; and of our own
    folders of work the one in which they lie, for in there nothing is a person's to mend.
    """
    names = _names(error)
    if error.errno in {errno.EACCES, errno.EPERM}:
        refusing = _refusing(error)
        if refusing:
            return str(refusing)
    if error.errno == errno.EROFS:
        names = [name for name in names if is_read_only(name)] or names
    if not names:
        return ""
    parts = names[0].parts
    return str(Path(*parts[: parts.index(_WORK)]) if _WORK in parts[1:] else names[0])


def is_read_only(path: Path) -> bool:
    """Whether the filesystem takes no changes on which a path lies, or would lie."""
    for place in (path, *path.parents):
        with contextlib.suppress(OSError):
            return bool(os.statvfs(place).f_flag & os.ST_RDONLY)
    return False


def user_name(uid: int) -> str:
    """Return a user's name, or its number where it has none."""
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return str(uid)


def owner_of(found: os.stat_result) -> str:
    """Return who owns a file and what others may do, as an administrator needs to know it."""
    return f"owner {user_name(found.st_uid)}, mode {found.st_mode & 0o7777:o}"


def _permission(error: OSError) -> str:
    user = user_name(os.geteuid())
    place = _refusing(error)
    whose = f" ({plain(str(place), _LONGEST)}: {owner_of(place.stat())})" if place else ""
    right = f"give user {user} the right to it{whose}"
    return f"{right}, or run the command as the gate's own user; `gatekeeper doctor` looks at all"


def _names(error: OSError) -> list[Path]:
    names = (error.filename, error.filename2)
    return [Path(name) for name in names if isinstance(name, str | Path)]


def _refusing(error: OSError) -> Path | None:
    """Return which of the places that the call named, or what they lie in, is closed to us."""
    for path in _names(error):
        for place in (path, *path.parents):
            try:
                place.stat()
            except OSError:
                continue  # what lies above it tells why
            if not os.access(place, os.R_OK | os.W_OK, effective_ids=True):
                return place
            if place != path:
                break  # it lies in a folder that we may use
    return None
