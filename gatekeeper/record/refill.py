"""A history that had to be begun anew, deleted or damaged and set aside, is filled by itself.

At a start, and in the middle of a run: whoever removes the file under the daemon has it back, from
the job folders, after the next round.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.record.rebuild import rebuild

if TYPE_CHECKING:
    from collections.abc import Callable

    from gatekeeper.record.ledger import Ledger
    from gatekeeper.site import Site

log = logging.getLogger(__name__)


class Refill:
    """Looks whether the history was begun anew, and fills it."""

    def __init__(self, site: Site, ledger: Ledger) -> None:
        self._site = site
        self._ledger = ledger
        self.trouble = ""  # why the history is not complete, for every screen

    def look(self, sign_of_life: Callable[[], None] = lambda: None) -> None:
        """Ask the history something, which begins one where none is, and fill it if it did.

        At a start, for the first job asks it already; and with each round, for nobody else might
        notice that it has gone until a job is told to it.
        """
        self._ledger.newest_ticket()
        self.go(sign_of_life)

    def go(self, sign_of_life: Callable[[], None] = lambda: None) -> None:
        """Fill a history that was begun anew; what hinders it is told, and tried again next time.

        Parameters
        ----------
        sign_of_life : called now and then, for a hundred thousand jobs take minutes
        """
        history = self._ledger.history
        if not history.begun:
            return
        try:
            done = rebuild(
                self._site,
                self._ledger.disk,
                history,
                self._ledger.declarations(),
                told=lambda *_: sign_of_life(),
            )
        except (RoomError, OSError) as error:
            self.trouble = f"the history was begun anew and is not complete: {error}"
            return
        says = "%s; %d verdicts were found in the job folders"
        if done.verdicts:  # somebody has to hear of it: the audit trail of before is gone
            says += ". The audit trail begins anew; the newest report names the hash that it had"
        log.log(
            logging.WARNING if done.verdicts else logging.INFO, says, history.begun, done.verdicts
        )
        self._ledger.have_filled()
        self.trouble = ""
