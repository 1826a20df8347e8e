"""What of the daily work is due: decided from the clock and from what was done, never from timers.

A task is due when its latest time of day has passed and it was not done since. So a run that was
missed, because the machine slept or the daemon was stopped, is caught up once, however many days
were missed; and an hour that a change of clocks repeats or leaves out does no harm. A task that was
never done is not due at the first start: its first run is its next one. Pure.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import tzinfo


def latest(at: time, now: datetime, zone: tzinfo) -> datetime:
    """Return the newest moment that is this time of day and not later than now.

    Parameters
    ----------
    now : aware of its zone
    zone : the room's; a time that its clocks skip counts as that much later, one that they repeat
        as its first
    """
    today = now.astimezone(zone).date()
    for day in (today, today - timedelta(days=1), today - timedelta(days=2)):
        moment = datetime.combine(day, at, zone)
        if moment <= now:
            return moment
    return now  # no zone is so odd


def counted_from(
    times: Mapping[str, time], done: Mapping[str, datetime], now: datetime, zone: tzinfo
) -> dict[str, datetime]:
    """Return from where tasks count whose last run lies ahead of the clock: it was set back.

    They are due at their next time by the clock as it is now, and not only when it has come to
    where it was: a year may lie between. Those that lie in the past are left out.
    """
    return {
        task: latest(at, now, zone)
        for task, at in times.items()
        if task in done and done[task] > now
    }


def due(
    times: Mapping[str, time], done: Mapping[str, datetime], now: datetime, zone: tzinfo
) -> list[str]:
    """Return the tasks that are due, in the order of the timetable.

    Parameters
    ----------
    times : time of day of each task
    done : the run that was done last of each, as `latest` named it; a task that is not in it is
        not due
    """
    return [
        task for task, at in times.items() if task in done and done[task] < latest(at, now, zone)
    ]
