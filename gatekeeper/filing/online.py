"""Is a folder really there? An empty mount point is not an empty folder; only the marker tells."""

from __future__ import annotations

import queue
import threading
from typing import TYPE_CHECKING, TypeAlias

from gatekeeper.filing import trouble
from gatekeeper.filing.desk import SITE_ID, WORK
from gatekeeper.filing.trouble import OfflineError
from gatekeeper.system_errors import advice

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Roots
    from gatekeeper.filing.disk import Disk

__all__ = ["OfflineError", "require_answer", "require_marked", "require_online"]

ANSWER_S = 10.0
"""A server that has not answered by then is away (s)."""

_LONGEST_MARK = 4_000


def require_online(disk: Disk, roots: Roots) -> None:
    """Raise `OfflineError` unless drop, approved and held all carry this site's marker.

    Asked whenever something is about to be made where nothing was found, or to be concluded from
    something not being there.
    """
    for root in (roots.drop, roots.approved, roots.held):
        require_marked(disk, root, roots.mark)


def require_marked(disk: Disk, root: Path, mark: str) -> None:
    """Raise `OfflineError` unless the folder carries this site's marker."""
    if not mark:
        raise trouble.unmarked()
    marker = root.joinpath(WORK, SITE_ID)
    try:
        found = disk.read(marker, _LONGEST_MARK).decode("utf-8", "replace").strip()
    except OSError as error:
        why = error.strerror or str(error)
        raise trouble.away(root, marker, why, advice(error)) from error
    if found != mark:
        raise trouble.foreign(root, marker, found, mark)


_waiting_for: dict[Path, threading.Thread] = {}

_Answers: TypeAlias = "queue.SimpleQueue[BaseException | None]"


def require_answer(disk: Disk, roots: Roots, within_s: float = ANSWER_S) -> None:
    """Raise `OfflineError` unless all roots answer in time and are this site's.

    A call to a dead file server can hang for hours and cannot be ended; it is made in a thread that
    may be lost, and nothing more is asked of that root while the thread still hangs.
    """
    places = tuple(dict.fromkeys((roots.drop, roots.approved, roots.held)))
    for root in places:
        earlier = _waiting_for.get(root)
        if earlier and earlier.is_alive():
            raise trouble.away(root, root / WORK / SITE_ID, "its server does not answer")
    answers: _Answers = queue.SimpleQueue()
    thread = threading.Thread(
        target=_ask, args=(disk, places, roots.mark, answers), name="is the site there", daemon=True
    )
    thread.start()
    for root in places:
        try:
            error = answers.get(timeout=within_s)
        except queue.Empty:
            # Only one that is lost: a call that is under way for somebody else says nothing yet.
            _waiting_for[root] = thread
            why = f"no answer in {within_s:g} seconds"
            raise trouble.away(root, root / WORK / SITE_ID, why) from None
        if error is not None:
            raise error


def _ask(disk: Disk, places: tuple[Path, ...], mark: str, answers: _Answers) -> None:
    """Ask one root after the other, and no further than where something is wrong."""
    for root in places:
        try:
            require_marked(disk, root, mark)
        except BaseException as error:  # noqa: BLE001 -- handed to the thread that waits
            answers.put(error)
            return
        answers.put(None)
