"""Takes away pages of jobs that no list has named for a while, lest they fill the disk.

A page is a help for the eye: the job's folder keeps all that it said, and `why` says it again.
"""

from __future__ import annotations

import contextlib
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Container, Iterator
    from datetime import datetime
    from pathlib import Path

KEPT = timedelta(days=60)
"""How long a page outlives its place on the lists: somebody may have kept its address."""


def remove_old_pages(folder: Path, listed: Container[Path], now: datetime) -> int:
    """Remove the pages in the folders of this one that are old and not listed; return how many.

    What cannot be removed, or is gone already, is left as it is.

    Parameters
    ----------
    folder : holds a folder for each workflow; it need not be there
    listed : pages to which a list leads
    """
    oldest = (now - KEPT).timestamp()
    removed = 0
    for path in _files(folder):
        with contextlib.suppress(OSError):
            if path not in listed and path.stat(follow_symlinks=False).st_mtime < oldest:
                path.unlink()
                removed += 1
    return removed


def _files(folder: Path) -> Iterator[Path]:
    for shelf in _entries(folder):
        yield from _entries(shelf)


def _entries(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []
