"""Tells log, system and screens how the room stands, after the jobs and never before them."""

from __future__ import annotations

import logging
import os
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.care.trend_watch import TrendWatch
from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.logs.standing import Standing
from gatekeeper.notify import notify
from gatekeeper.rounds.outlook import in_words
from gatekeeper.screens.page_files import Pages
from gatekeeper.screens.present import Present, PresentFile
from gatekeeper.workshop import PROGRAM

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from gatekeeper.bookkeeper import Bookkeeper
    from gatekeeper.clock import Clock
    from gatekeeper.rounds.outlook import FiledJob, Outlook
    from gatekeeper.site import Site
    from gatekeeper.upkeep.metrics import Metrics

log = logging.getLogger(__name__)

PRESSING_S = 0.05
"""What is due so soon (s) is judged before pages are written."""

SILENT_S = 2.0
"""Screens wait no longer than this for a stream of jobs to end (s)."""


class Herald:
    """Keeps every screen of one site, from the working thread."""

    def __init__(
        self,
        site: Site,
        clock: Clock,
        bookkeeper: Bookkeeper,
        metrics: Metrics,
        *,
        troubles: Callable[[], Iterable[str]],
        for_log: Callable[[], Iterable[str]],
        for_screens: Callable[[], Iterable[str]],
    ) -> None:
        """Prepare.

        Parameters
        ----------
        troubles : what is wrong beside the rounds
        for_log, for_screens : what more is wrong that only the log, or only screens, shall tell
        """
        self._clock = clock
        self._bookkeeper = bookkeeper
        self._metrics = metrics
        self._troubles = troubles
        self._for_log = for_log
        self._for_screens = for_screens
        self._standing = Standing(log, clock.monotonic)
        self._present = PresentFile(site.state)
        self._pages = Pages(site, clock)
        self._trends = TrendWatch(site, clock)
        self._filed: list[FiledJob] = []  # not yet shown
        self._told_at = float("-inf")

    def tell_in_time(self, outlook: Outlook, *, more_comes: bool) -> list[FiledJob] | None:
        """Tell how it stands, but let a job that is all but at rest go first, for a while.

        Parameters
        ----------
        more_comes : something was heard since the round began

        Returns
        -------
        What was filed and is told now; None where it was put off.
        """
        self._filed += outlook.filed
        due_s, now = outlook.next_due_s, self._clock.monotonic()
        is_pressed = more_comes or (due_s is not None and due_s < PRESSING_S)
        if is_pressed and now - self._told_at < SILENT_S:
            return None
        self._tell(outlook)
        told, self._filed, self._told_at = self._filed, [], now
        return told

    def note_filed(self, filed: Iterable[FiledJob]) -> None:
        """Show with the next round what was filed beside it."""
        self._filed += filed

    def tell_log(self, trouble: str) -> None:
        """Tell log and system, which is all that is left while the state folder is away."""
        self._standing.tell([trouble])
        notify(STATUS=trouble)

    def catch_up(self) -> None:
        """Write the pages that were put off."""
        self._pages.catch_up()

    def end(self) -> None:
        """Say on the pages that the gate ends here."""
        self._pages.end()

    def _tell(self, outlook: Outlook) -> None:
        if any(job.workflow in SHELVES.values() for job in self._filed):
            self._trends.renew()  # a wedge or a meter check: it may change what the charts say
        trends = self._trends.look(self._bookkeeper.book)
        broken, coming = self._broken(is_to_come=False), self._broken(is_to_come=True)
        alarms = [*outlook.alarms, *self._troubles(), *trends.doubts]
        self._standing.tell(
            [
                *alarms,
                *(f"broken: {problem}" for problem in broken),
                *(f"to mend in time: {problem}" for problem in coming),
                *self._for_log(),
            ]
        )
        alarms = list(dict.fromkeys((*alarms, *self._for_screens())))
        notify(STATUS=f"{len(outlook.waiting)} waiting, {len(alarms)} alarms")
        present = Present(
            at=self._clock.now().isoformat(timespec="seconds"),
            process=os.getpid(),
            program=PROGRAM,
            waiting=tuple(outlook.waiting),
            alarms=tuple(alarms),
            broken_rules=broken,
            coming_rules=coming,
            news=trends.news,
        )
        try:
            self._present.write(present)
        except OSError as error:
            says = f"other screens do not see how it stands: {in_words(error)}"
            log.warning("%s", says)
            present = replace(present, alarms=(says, *present.alarms))  # the page may see it
        self._pages.show_trends(trends.charts, trends.curves)
        self._pages.follow(self._bookkeeper.book, present, filed=bool(self._filed))
        self._metrics.follow(self._bookkeeper.book, present)

    def _broken(self, *, is_to_come: bool) -> tuple[str, ...]:
        """Return what is wrong with the rules now, or will be on a day to come."""
        return tuple(
            f"{problem.place} {problem.what}"
            for problem in self._bookkeeper.problems
            if bool(problem.begins) is is_to_come
        )
