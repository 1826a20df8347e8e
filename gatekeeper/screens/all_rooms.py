"""A look at every room that shares the site's history, taken now and then, beside the work.

Where the history is a file of the room alone nothing is ever asked. A look asks each room a few
short questions over one connection; the verdicts of the last weeks are read again only of rooms
where something was filed since the look before, and of all when the day turns.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gatekeeper.aside import beside
from gatekeeper.control.lots import RoomTally, rates_of, tally
from gatekeeper.control.review import SPAN, window_start
from gatekeeper.control.shares import share
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.history_settings import is_on_server
from gatekeeper.shelf_names import RESERVED
from gatekeeper.show.facts import NO_REASON
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.moments import moment
from gatekeeper.show.room_facts import Alarm
from gatekeeper.show.shared_rooms import HeldElsewhere, SharedRoom, SharedRooms
from gatekeeper.verdict import Decision
from gatekeeper.wording import did_you_mean, plain, quoted
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

    from gatekeeper.clock import Clock
    from gatekeeper.history.past import JobLine
    from gatekeeper.history.query import Lookup
    from gatekeeper.site import Site

EVERY_S = 300.0
"""Time between two looks (s)."""

MOST_ROOMS = 100
"""Rooms that are shown; beyond them somebody chooses, by `page_rooms`."""

NEWEST_HELD = 5
"""Held jobs that are listed of each room."""

_LOTS = 8
_LONGEST = 8000  # what to do about a lot stands behind the names of all rooms that used it

log = logging.getLogger(__name__)


def rooms_to_show(site: Site, known: Sequence[str]) -> list[str]:
    """Return the rooms that page and digest show: those that are named, else all, its own first.

    Parameters
    ----------
    known : every room that writes into the history
    """
    named = site.settings.page_rooms
    if named:
        return [name for name in dict.fromkeys(named) if name in known]
    return sorted(known, key=lambda name: (name != site.mark, name))


@dataclass(frozen=True, slots=True)
class Tallied:
    """What a room's jobs said of its lots, and how the room stood when they were counted."""

    state: object
    counted: RoomTally


class AllRooms:
    """What the rooms looked like at the last look.

    `start` does a look, now or beside the work that goes on.
    """

    def __init__(
        self, site: Site, clock: Clock, start: Callable[[Callable[[], None]], None] = beside
    ) -> None:
        self.site = site
        self._clock = clock
        self._start = start
        self._looked_at: float | None = None
        self._is_looking = False
        self.seen: SharedRooms | None = None  # at the last look; None before it
        self.tallies: dict[str, Tallied] = {}  # by the room's name

    def look(self) -> SharedRooms | None:
        """Return what the last look showed, and begin a new one when it is time; None before it."""
        now = self._clock.monotonic()
        is_due = self._looked_at is None or now - self._looked_at >= EVERY_S
        if is_due and not self._is_looking and self.may_be_several:
            self._looked_at, self._is_looking = now, True
            self._start(self._look)
        return self.seen

    @property
    def may_be_several(self) -> bool:
        """Whether rooms can share the history at all: a file is of one room alone."""
        return is_on_server(self.site.settings.history)

    def _look(self) -> None:
        try:
            self.seen = self._ask()
        except NoHistoryYetError:
            self.seen = None
        except HistoryAwayError as error:
            self.seen = self._blind(f"the shared history is away: {error.what}", error.do)
        except Exception:  # nobody waits for this thread, so nobody else would tell
            log.exception("a fault of the program while looking at the other rooms")
            self.seen = self._blind("the other rooms were not looked at", "see the gate's log")
        finally:
            self._is_looking = False

    def _blind(self, says: str, do: str) -> SharedRooms:
        """Return what was seen last, under an alarm that it is no longer so."""
        last = self.seen or SharedRooms(room=plain(self.site.name))
        says = f"{plain(says, LONGEST)}. What stands here is old" if last.asked else says
        return replace(last, alarms=(Alarm(plain(says, LONGEST), plain(do, LONGEST)),))

    def _ask(self) -> SharedRooms:
        now, zone = self._clock.now(), self.site.time_zone
        since = window_start(now, zone)
        with lookup_of(self.site, self._clock) as history:
            known = history.rooms()
            names = rooms_to_show(self.site, known)[:MOST_ROOMS]
            rooms = tuple(self._room(history.of_room(name), since, now) for name in names)
        self.tallies = {name: self.tallies[name] for name in names}
        rates = rates_of({name: self.tallies[name].counted for name in names})
        return SharedRooms(
            room=plain(self.site.name),
            asked=moment(now, zone),
            days=SPAN.days,
            rooms=rooms,
            left_out=len(known) - len(names),
            bad_lots=tuple(plain(rate.says, _LONGEST) for rate in rates if rate.is_worse)[:_LOTS],
            lots=len(rates),
            alarms=tuple(self._unknown(known)),
        )

    def _unknown(self, known: Sequence[str]) -> Iterator[Alarm]:
        for name in dict.fromkeys(self.site.settings.page_rooms):
            if name not in known:
                says = f"page_rooms: no room in this history is called {quoted(name)}"
                yield Alarm(says, did_you_mean(name, known))

    def _room(self, history: Lookup, since: datetime, now: datetime) -> SharedRoom:
        newest = next(iter(history.jobs(limit=1)), None)
        counts = history.counts()
        held = history.jobs(state=Decision.HELD, limit=NEWEST_HELD)
        counted = self._tally(history, since, (since, counts, newest))
        return SharedRoom(
            name=plain(history.site),
            is_here=history.site == self.site.mark,
            approved=counts.approved,
            held_in_all=max(counts.held, len(held)),
            first_try=share(*counted.jobs),
            newest=moment(newest.filed_at, self.site.time_zone) if newest else "",
            age=now - newest.filed_at if newest else None,
            held=tuple(map(self._held, held)),
        )

    def _tally(self, history: Lookup, since: datetime, state: object) -> RoomTally:
        """Return what a room's jobs say of its lots, counted anew only when something was filed."""
        last = self.tallies.get(history.site)
        if last is None or last.state != state:
            outcomes = history.outcomes(since=since)
            counted = tally(one for one in outcomes if one.workflow not in RESERVED)
            last = self.tallies[history.site] = Tallied(state, counted)
        return last.counted

    def _held(self, line: JobLine) -> HeldElsewhere:
        return HeldElsewhere(
            job=plain(line.job),
            workflow=plain(line.workflow),
            customer=plain(line.customer),
            since=moment(line.filed_at, self.site.time_zone),
            why=plain(line.reason, LONGEST) or NO_REASON,
        )
