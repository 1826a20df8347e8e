"""Every series of a room and what became of its jobs, over a while, as the history tells it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from gatekeeper.control.lots import LotRate, lot_rates
from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.control.series import series_of
from gatekeeper.control.trend import Trend, trend_of
from gatekeeper.control.yields import Yield, yield_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import tzinfo

    from gatekeeper.control.series import Surroundings
    from gatekeeper.history.past import Outcome
    from gatekeeper.history.query import Lookup


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked at; None for any."""

    since: datetime
    workflow: str | None = None
    printer: str | None = None


@dataclass(frozen=True, slots=True)
class Review:
    """What was found, the most pressing series first."""

    wanted: Wanted
    at: datetime
    trends: tuple[Trend, ...]
    came_through: Yield
    lots: tuple[LotRate, ...] = ()  # of every room that was asked, the worst first
    rooms: tuple[str, ...] = ()  # those that were asked about their lots

    @property
    def news(self) -> tuple[str, ...]:
        """What somebody should act on, in plain words."""
        bad_lots = (rate.says for rate in self.lots if rate.is_worse)
        return (*bad_lots, *(trend.says[0] for trend in self.trends if trend.is_news))


SPAN = timedelta(days=60)
"""How far charts look back, unless somebody asks otherwise."""


def window_start(now: datetime, zone: tzinfo) -> datetime:
    """Return the midnight, in this zone, from which on films are looked at by themselves."""
    return datetime.combine((now.astimezone(zone) - SPAN).date(), time(), zone)


def empty_review(wanted: Wanted, now: datetime) -> Review:
    """Return the review of a room whose history has not begun."""
    return Review(wanted, now, (), yield_of(()))


def review(
    history: Lookup,
    room: Surroundings,
    wanted: Wanted,
    *,
    now: datetime,
    zone: tzinfo,
    others: Sequence[Lookup] = (),
) -> Review:
    """Ask the history and look at all that it tells.

    Parameters
    ----------
    others : rooms whose film lots are looked at together with this one's

    Raises
    ------
    HistoryAwayError : the history cannot be asked
    """
    films = history.films(since=wanted.since, workflow=wanted.workflow, printer=wanted.printer)
    trends = [trend_of(series, now, zone) for series in series_of(films, room)]
    trends.sort(key=lambda trend: (not trend.is_news, not trend.says))
    outcomes = history.outcomes(since=wanted.since, workflow=wanted.workflow)
    rooms = {history.site: _of_jobs(outcomes)}
    for other in others:
        found = other.outcomes(since=wanted.since, workflow=wanted.workflow)
        rooms[other.site] = _of_jobs(found)
    return Review(
        wanted,
        now,
        tuple(trends),
        yield_of(rooms[history.site]),
        lot_rates(rooms),
        tuple(rooms),
    )


def _of_jobs(outcomes: Iterable[Outcome]) -> list[Outcome]:
    """Leave out what is no job: wedges, meter checks."""
    return [entry for entry in outcomes if entry.line.workflow not in SHELVES.values()]
