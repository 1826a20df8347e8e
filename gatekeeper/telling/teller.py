"""Works through the waiting list in a thread of its own, so that no verdict ever waits for it."""

from __future__ import annotations

import logging
import threading
from typing import TYPE_CHECKING

from gatekeeper.logs import fields
from gatekeeper.telling.command import tell

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gatekeeper.telling.event import Event
    from gatekeeper.telling.settings import TellBlock
    from gatekeeper.telling.waiting_list import WaitingList

FIRST_PAUSE_S = 5.0
LONGEST_PAUSE_S = 3600.0
GROWTH = 3.0

MOST_TRIES = 20
"""The pauses grow to an hour, so that a receiver may be away for half a day."""

LOOK_S = 5.0
"""How soon a new event is seen (s)."""

_PARTING_S = 2.0

log = logging.getLogger(__name__)


class Teller:
    """Tells one event after the other, the oldest first.

    Parameters
    ----------
    run : tells one event and returns why it failed; the real one runs the command
    """

    def __init__(
        self,
        settings: TellBlock,
        waiting: WaitingList,
        here: Path,
        run: Callable[[TellBlock, Event, Path], str] = tell,
    ) -> None:
        self.trouble = ""  # empty while all is told
        self._settings = settings
        self._waiting = waiting
        self._here = here
        self._run = run
        self._tries = 0  # of the oldest event
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._work, name="teller", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Begin no further event, and give the one in hand a moment to end.

        One that takes longer is told again after the next start.
        """
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join(_PARTING_S)

    @property
    def is_alive(self) -> bool:
        """Whether its thread runs."""
        return self._thread.is_alive()

    def go(self) -> float:
        """Tell what waits, as far as it goes; return how long to pause then (s)."""
        for ticket in self._waiting.tickets():
            if self._ending.is_set():
                break
            reason = self._tell(ticket)
            if reason:
                return self._failed(ticket, reason)
            self._waiting.remove(ticket)
            self._tries = 0
        self.trouble = ""
        return LOOK_S

    def _tell(self, ticket: str) -> str:
        event = self._waiting.event(ticket)
        if event is None:
            self._tries = MOST_TRIES
            return "its file is damaged"
        return self._run(self._settings, event, self._here)

    def _failed(self, ticket: str, reason: str) -> float:
        self._tries += 1
        name = self._settings.command[0]
        self.trouble = f"{name} was not told of {ticket}: {reason}"
        if self._tries < MOST_TRIES:
            return float(min(FIRST_PAUSE_S * GROWTH ** (self._tries - 1), LONGEST_PAUSE_S))
        self._waiting.set_aside(ticket)
        log.error("given up: %s", self.trouble, extra=fields(ticket=ticket))
        self._tries = 0
        return 0.0

    def _work(self) -> None:
        pause_s = 0.0
        while not self._ending.wait(pause_s):
            try:
                pause_s = self.go()
            except OSError as error:
                self.trouble = f"the list of what is to be told cannot be used: {error.strerror}"
                pause_s = FIRST_PAUSE_S
