"""A review of a site: its history, register and rules put together.

Raises
------
HistoryAwayError : the history cannot be asked; `NoHistoryYetError` where none was begun
"""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

from gatekeeper.care.curve_store import CurveStore
from gatekeeper.control.review import Review, Wanted, review
from gatekeeper.control.surroundings import RoomSurroundings
from gatekeeper.errors import UsageError
from gatekeeper.filing.disk import Disk
from gatekeeper.wording import did_you_mean, quoted
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from gatekeeper.clock import Clock
    from gatekeeper.room import Book
    from gatekeeper.site import Site


def surroundings_of(site: Site, book: Book) -> RoomSurroundings:
    """Return what a site knows of its printers, film and limits."""
    accepted = CurveStore(site.state, Disk()).accepted()
    return RoomSurroundings(book.register, book.library, site.time_zone, accepted)


def review_site(
    site: Site, book: Book, wanted: Wanted, clock: Clock, rooms: Iterable[str] = ()
) -> Review:
    """Look at a site's history since a moment.

    Parameters
    ----------
    rooms : others in the same database whose film lots are looked at together with this one's
    """
    with ExitStack() as opened:
        history = opened.enter_context(lookup_of(site, clock))
        others = [
            opened.enter_context(lookup_of(site, clock, room=room))
            for room in rooms
            if room != site.mark
        ]
        surroundings = surroundings_of(site, book)
        return review(
            history, surroundings, wanted, now=clock.now(), zone=site.time_zone, others=others
        )


def rooms_named(
    site: Site, clock: Clock, names: Collection[str], *, everything: bool = False
) -> tuple[str, ...]:
    """Return the rooms of the site's database that are meant; only its own where none is named.

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
    return known if everything else tuple(dict.fromkeys(names))
