"""Scheduled work. A job of the scheduler only puts a token on the queue.

The one working thread does the rest.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.schedulers.background import BackgroundScheduler

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import datetime, time
    from zoneinfo import ZoneInfo

log = logging.getLogger(__name__)

BEAT_S = 2
"""Bounds how late a step of the clock is noticed, and carries the sign of life (s)."""

LETTERS_S = 60
"""Time between two tries to send what waits (s)."""


class Upkeep:
    """The timetable of a site."""

    def __init__(
        self,
        zone: ZoneInfo,
        *,
        rescan_s: float,
        rescan: Callable[[], None],
        beat: Callable[[], None],
        times: Iterable[time] = (),
        chores: Callable[[], None] = lambda: None,
        letters: Callable[[], None] = lambda: None,
    ) -> None:
        """Set up the timetable.

        Parameters
        ----------
        times : times of day, by the room's own clock, at which something is due
        chores : asks for what is due; which that is, is decided by who does it
        letters : asks for the letters that wait to be sent
        """
        # Late runs run once, however late: the usual grace of one second loses them.
        defaults = {"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        self._scheduler = BackgroundScheduler(timezone=zone, job_defaults=defaults)
        self._scheduler.add_job(rescan, "interval", seconds=rescan_s, id="rescan")
        self._scheduler.add_job(beat, "interval", seconds=BEAT_S, id="beat")
        self._scheduler.add_job(letters, "interval", seconds=LETTERS_S, id="letters")
        self._chores = chores
        self._times: set[time] = set()
        self._rescan_s = rescan_s
        self._set_times(times)
        self._scheduler.add_listener(self._trouble, EVENT_JOB_ERROR | EVENT_JOB_MISSED)

    def start(self) -> None:
        """Begin."""
        self._scheduler.start()

    def follow(self, times: Iterable[time], rescan_s: float) -> None:
        """Go by another timetable from now on; what stays as it was keeps its next run."""
        self._set_times(times)
        if rescan_s != self._rescan_s:
            self._rescan_s = rescan_s
            self._scheduler.reschedule_job("rescan", trigger="interval", seconds=rescan_s)

    def next_runs(self) -> dict[str, datetime]:
        """Return when each job of the timetable runs next, by its name; only once it has begun."""
        return {job.id: job.next_run_time for job in self._scheduler.get_jobs()}

    def _set_times(self, times: Iterable[time]) -> None:
        wanted = set(times)
        for at in self._times - wanted:
            self._scheduler.remove_job(_name(at))
        for at in sorted(wanted - self._times):
            self._scheduler.add_job(
                self._chores, "cron", hour=at.hour, minute=at.minute, id=_name(at)
            )
        self._times = wanted

    def stop(self) -> None:
        """End, without waiting for anything."""
        self._scheduler.shutdown(wait=False)

    @property
    def is_alive(self) -> bool:
        """Whether the scheduler's thread runs."""
        thread = getattr(self._scheduler, "_thread", None)
        return bool(self._scheduler.running and thread is not None and thread.is_alive())

    def _trouble(self, event: JobExecutionEvent) -> None:
        log.warning(
            "scheduled work %s was missed or failed: %s",
            event.job_id,
            getattr(event, "exception", ""),
        )


def _name(at: time) -> str:
    return f"chores {at:%H:%M}"
