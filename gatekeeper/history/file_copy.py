"""A copy of a file of the history that appears whole, under its name, or not at all."""

from __future__ import annotations

import errno
import os
import sqlite3
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from gatekeeper.history import sqlite, trouble

if TYPE_CHECKING:
    from sqlalchemy import Engine


def write_copy(engine: Engine, target: Path) -> None:
    """Write a consistent copy under a temporary name, flush it, then give it its name."""
    if os.path.lexists(target):
        raise trouble.name_taken(str(target))
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(".new", f".{target.name}.", target.parent)
        os.close(handle)
        temporary = Path(name)
        sqlite.copy(engine, temporary)
        flush(temporary)
        temporary.rename(target)
        temporary = None
        flush(target.parent)
    except (OSError, sqlite3.Error) as error:
        what = str(getattr(error, "strerror", None) or error)
        raise trouble.not_copied(what, str(target)) from error
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def flush(path: Path) -> None:
    """Make a file, or the names in a folder, durable."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network file systems cannot flush a folder; a backup may be meant for one.
        if error.errno != errno.EINVAL or not path.is_dir():
            raise
    finally:
        os.close(handle)
