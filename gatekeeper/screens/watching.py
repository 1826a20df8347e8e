"""Follows a site for a screen: looks again only when something was written."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.room import read_book
from gatekeeper.screens.alarms import silence
from gatekeeper.screens.glance import Glance
from gatekeeper.screens.present import NOW_FILE, read_present
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.room_facts import Alarm, RoomFacts
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from gatekeeper.clock import Clock
    from gatekeeper.room import Book
    from gatekeeper.screens.present import Present
    from gatekeeper.site import Site

BOOK_S = 10.0
"""Rules and register are read again so often (s): they only tell titles and days."""

LOOK_S = 10.0
"""The site is looked at again so often even when nothing seems to have been written (s)."""

LOOK_HERE = "gatekeeper doctor says what is wrong with it"


class Watching:
    """The newest facts about a site; reads only."""

    def __init__(self, site: Site, clock: Clock, glance: Glance | None = None) -> None:
        self.site = site
        self._clock = clock
        self._glance = glance or Glance(site, clock)
        self._book: Book | None = None
        self._book_read = 0.0
        self._looked = 0.0
        self._seen: tuple[int, Alarm | None] | None = None
        self._facts: RoomFacts | None = None
        self._present: Present | None = None
        self._present_written = 0

    def facts(self) -> RoomFacts:
        """Return how the site stands; cheap while nothing was written."""
        try:
            return self._look()
        except OSError as error:
            return self._blind(error)

    def _look(self) -> RoomFacts:
        written = self._written()
        if written != self._present_written:  # it may hold thousands of lines
            self._present, self._present_written = read_present(self.site.state), written
        present = self._present
        silent = silence(self.site, present, self._clock.now())
        seen = written, silent
        now = self._clock.monotonic()
        if self._facts is None or seen != self._seen or now - self._looked > LOOK_S:
            self._facts = self._glance.look(self._read_book(now), present, silent)
            self._seen, self._looked = seen, now
        return self._facts

    def _blind(self, error: OSError) -> RoomFacts:
        """Return what was seen last, under an alarm: a screen on the wall does not end."""
        where = plain(str(error.filename or self.site.root), LONGEST)
        alarm = Alarm(f"THIS SCREEN SEES NOTHING NEW: {where}: {error.strerror}", LOOK_HERE)
        last = self._facts or RoomFacts(room=plain(self.site.name), is_at_work=False)
        return replace(last, alarms=(alarm, *last.alarms))

    def close(self) -> None:
        """Let go of the history."""
        self._glance.close()

    def _written(self) -> int:
        try:
            return (self.site.state / NOW_FILE).stat().st_mtime_ns
        except OSError:
            return 0

    def _read_book(self, now: float) -> Book:
        if self._book is None or now - self._book_read > BOOK_S:
            self._book, self._book_read = read_book(self.site), now
        return self._book
