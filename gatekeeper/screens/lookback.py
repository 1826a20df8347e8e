"""A review of a site: its history, register and rules put together.

Raises
------
HistoryAwayError : the history cannot be asked; `NoHistoryYetError` where none was begun
"""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

from gatekeeper.care.curve_store import CurveStore
from gatekeeper.control.recorded_surroundings import RecordedSurroundings
from gatekeeper.control.review import Review, Wanted, review
from gatekeeper.control.surroundings import RoomSurroundings
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.rules.difference import read_record
from gatekeeper.wording import did_you_mean, fold, quoted
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import datetime

    from gatekeeper.clock import Clock
    from gatekeeper.control.series import Surroundings
    from gatekeeper.history.query import Lookup
    from gatekeeper.room import Book
    from gatekeeper.site import Site


def surroundings_of(site: Site, book: Book) -> RoomSurroundings:
    """Return what a site knows of its printers, film and limits."""
    accepted = CurveStore(site.state, Disk()).accepted()
    return RoomSurroundings(book.register, book.library, site.time_zone, accepted)


def recorded_surroundings(history: Lookup, wanted: Wanted, now: datetime) -> RecordedSurroundings:
    """Return what the history knows of a room whose register and rules lie elsewhere."""
    workflows = [entry.workflow for entry in history.counts().by_workflow]
    found = {workflow: history.rules_at(workflow, "", now) for workflow in workflows}
    rules = {name: read_record(one.rules.text) for name, one in found.items() if one}
    lots = history.stocks_of_lots(since=wanted.since)
    return RecordedSurroundings({fold(lot): stock for lot, stock in lots.items()}, rules)


def review_site(
    site: Site, book: Book, wanted: Wanted, clock: Clock, rooms: Collection[str] = ()
) -> Review:
    """Look at a site's history since a moment.

    Parameters
    ----------
    rooms : those of the same database that are looked at; without any this one alone
    """
    now = clock.now()
    with ExitStack() as opened:
        charted: list[tuple[Lookup, Surroundings]] = []
        for room in rooms or (site.mark,):
            history = opened.enter_context(lookup_of(site, clock, room=room))
            is_here = room == site.mark
            known = surroundings_of(site, book) if is_here else None
            charted.append((history, known or recorded_surroundings(history, wanted, now)))
        return review(charted, wanted, now=now, zone=site.time_zone)


def rooms_named(
    site: Site, clock: Clock, names: Collection[str], *, everything: bool = False
) -> tuple[str, ...]:
    """Return the rooms of the site's database that are meant; only its own where none is named.

    Of all rooms its own comes first.

    Raises
    ------
    UsageError : no room of the database is called so
    """
    if not names and not everything:
        return (site.mark,)
    with lookup_of(site, clock) as history:
        known = history.rooms()
    for name in names:
        if name not in known:
            says = f"no room in this history is called {quoted(name)}"
            raise UsageError(says, do=did_you_mean(name, known))
    if everything:
        return tuple(sorted(known, key=lambda name: (name != site.mark, name)))
    return tuple(dict.fromkeys(names))
