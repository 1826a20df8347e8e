"""The look at all that stands in approved: its verdict must hold for exactly what lies there.

A disk that turns a bit and a hand that means well leave no trace but this one. A job that no longer
is what was approved goes to held; what cannot be read proves nothing and is told. To look takes
minutes where a hundred thousand jobs stand, so a thread of its own looks, and changes nothing; the
working thread looks once more at what it found before it takes anything away.
"""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.doubt import BY_HAND, doubt_about, places_in_approved, write_doubt
from gatekeeper.filing.online import require_answer
from gatekeeper.rounds.outlook import in_words
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from gatekeeper.filing.desk import Desk, Roots
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.doubt import Doubtful
    from gatekeeper.gate import Tools
    from gatekeeper.rounds.outlook import Outlook

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Looked:
    """What a look has found."""

    doubts: list[Doubtful] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def look_at_approved(
    disk: Disk, roots: Roots, should_stop: Callable[[], bool] = lambda: False
) -> Looked:
    """Return what does not stand in approved by right; changes nothing.

    Raises
    ------
    RoomError, OSError : a folder is away, or was away during the look: nothing is concluded
    """
    require_answer(disk, roots)
    looked = Looked()
    for shelf, folder in places_in_approved(disk, roots):
        if should_stop():
            break
        try:
            doubtful = doubt_about(disk, roots, shelf, folder)
        except OSError as error:
            looked.troubles.append(f"{plain(folder)} cannot be checked: {in_words(error)}")
            continue
        if doubtful:
            looked.doubts.append(doubtful)
    require_answer(disk, roots)
    return looked


def tickets_of_doubt(
    looked: Looked, roots: Roots, tools: Tools, outlook: Outlook
) -> Iterator[Desk]:
    """Yield a ticket for each job that must not stand in approved; the outlook is told of all."""
    outlook.alarms += looked.troubles
    for found in looked.doubts:
        # Once more: another gate may have taken it out, and it may have passed since.
        doubtful = doubt_about(tools.disk, roots, found.shelf, found.name.folder)
        if doubtful is None:
            continue
        says = f"job {plain(doubtful.name.job)}: {doubtful.reason}"
        if not doubtful.can_be_taken:
            place = plain(f"{doubtful.shelf}/{doubtful.name.folder}", 200)
            outlook.alarms.append(f"{says} ({place}); {BY_HAND}")
            continue
        outlook.alarms.append(says)
        now = tools.clock.now()
        arrived = now.isoformat(timespec="seconds")
        yield write_doubt(tools.disk, roots, doubtful, tools.ids.next(now), arrived)


class Lookout:
    """Looks in a thread of its own, one look at a time."""

    def __init__(self, disk: Disk, roots: Roots, ended: Callable[[], None]) -> None:
        """Prepare.

        Parameters
        ----------
        ended : called by the thread when a look has ended; `result` has what it found
        """
        self._disk = disk
        self._roots = roots
        self._ended = ended
        self._should_stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._result: Looked | RoomError | OSError = Looked()

    def begin(self) -> None:
        """Begin a look, unless one is under way."""
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._look, name="lookout", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """End the look before its next job."""
        self._should_stop.set()

    def result(self) -> Looked:
        """Return what the last look found.

        Raises
        ------
        RoomError, OSError : why it could not look
        """
        if isinstance(self._result, Exception):
            raise self._result
        return self._result

    def _look(self) -> None:
        try:
            self._result = look_at_approved(self._disk, self._roots, self._should_stop.is_set)
        except (RoomError, OSError) as error:
            self._result = error
        except Exception:
            log.exception("a fault of the program while looking at approved")
            self._result = RoomError("it failed inside the program; see the log")
        self._ended()
