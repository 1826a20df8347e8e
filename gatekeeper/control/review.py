"""Every series of a room, or of several, and what became of jobs over a while, by the history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from gatekeeper.control.lots import LotRate, lot_rates
from gatekeeper.control.series import series_of
from gatekeeper.control.trend import Trend, trend_of
from gatekeeper.control.yields import Yield, yield_of
from gatekeeper.shelf_names import RESERVED

if TYPE_CHECKING:
    from collections.abc import Sequence
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
class RoomReview:
    """What one room's charts and jobs show, the most pressing series first."""

    room: str
    trends: tuple[Trend, ...]
    came_through: Yield

    @property
    def news(self) -> tuple[str, ...]:
        """What somebody should act on, in plain words."""
        return tuple(trend.says[0] for trend in self.trends if trend.is_news)


@dataclass(frozen=True, slots=True)
class Review:
    """What was found in the rooms that were looked at.

    Attributes
    ----------
    rooms : those whose charts were asked for, in that order
    lots : of every room that was compared, the worst first
    compared : the rooms that were asked about their lots
    """

    wanted: Wanted
    at: datetime
    rooms: tuple[RoomReview, ...]
    lots: tuple[LotRate, ...] = ()
    compared: tuple[str, ...] = ()

    @property
    def trends(self) -> tuple[Trend, ...]:
        """Every series, room by room."""
        return tuple(trend for room in self.rooms for trend in room.trends)

    @property
    def news(self) -> tuple[str, ...]:
        """What somebody should act on, in plain words; of several rooms, each with its room."""
        bad_lots = (rate.says for rate in self.lots if rate.is_worse)
        if len(self.rooms) == 1:
            return (*bad_lots, *self.rooms[0].news)
        return (*bad_lots, *(f"{room.room}: {says}" for room in self.rooms for says in room.news))


SPAN = timedelta(days=60)
"""How far charts look back, unless somebody asks otherwise."""


def window_start(now: datetime, zone: tzinfo) -> datetime:
    """Return the midnight, in this zone, from which on films are looked at by themselves."""
    return datetime.combine((now.astimezone(zone) - SPAN).date(), time(), zone)


def empty_review(wanted: Wanted, now: datetime, room: str = "") -> Review:
    """Return the review of a room whose history has not begun."""
    return Review(wanted, now, (RoomReview(room, (), yield_of(())),))


def review(
    charted: Sequence[tuple[Lookup, Surroundings]],
    wanted: Wanted,
    *,
    now: datetime,
    zone: tzinfo,
    compared: Sequence[Lookup] = (),
) -> Review:
    """Ask the history and look at all that it tells.

    Parameters
    ----------
    charted : rooms whose series are looked at, each with what is known of it
    compared : further rooms whose film lots are looked at together with theirs

    Raises
    ------
    HistoryAwayError : the history cannot be asked
    """
    rooms: list[RoomReview] = []
    of_jobs: dict[str, list[Outcome]] = {}
    for history, room in charted:
        films = history.each_film(
            since=wanted.since, workflow=wanted.workflow, printer=wanted.printer
        )
        trends = [trend_of(series, now, zone) for series in series_of(films, room)]
        trends.sort(key=lambda trend: (not trend.is_news, not trend.says))
        of_jobs[history.site] = jobs_of(history, wanted)
        rooms.append(RoomReview(history.site, tuple(trends), yield_of(of_jobs[history.site])))
    for history in compared:
        of_jobs[history.site] = jobs_of(history, wanted)
    return Review(wanted, now, tuple(rooms), lot_rates(of_jobs), tuple(of_jobs))


def jobs_of(history: Lookup, wanted: Wanted) -> list[Outcome]:
    """Return a room's verdicts on jobs, not those on wedges, meter checks and refused slips.

    Of a printer count the verdicts whose sheets name it, beside others perhaps.
    """
    found = history.outcomes(since=wanted.since, workflow=wanted.workflow)
    return [
        entry
        for entry in found
        if entry.workflow not in RESERVED
        and (wanted.printer is None or wanted.printer in entry.printer.split(", "))
    ]
