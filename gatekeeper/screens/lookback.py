"""A review of a site: its history, register and rules put together.

Raises
------
HistoryAwayError : the history cannot be asked; `NoHistoryYetError` where none was begun
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.care.curve_store import CurveStore
from gatekeeper.control.review import Review, Wanted, review
from gatekeeper.control.surroundings import RoomSurroundings
from gatekeeper.filing.disk import Disk
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from gatekeeper.clock import Clock
    from gatekeeper.room import Book
    from gatekeeper.site import Site


def surroundings_of(site: Site, book: Book) -> RoomSurroundings:
    """Return what a site knows of its printers, film and limits."""
    accepted = CurveStore(site.state, Disk()).accepted()
    return RoomSurroundings(book.register, book.library, site.time_zone, accepted)


def review_site(site: Site, book: Book, wanted: Wanted, clock: Clock) -> Review:
    """Look at a site's history since a moment."""
    with lookup_of(site, clock) as history:
        return review(
            history, surroundings_of(site, book), wanted, now=clock.now(), zone=site.time_zone
        )
