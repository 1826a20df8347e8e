"""What charts and meter checks of the last weeks show, looked at for board and page.

A look reads weeks of readings, so it is taken once an hour, or when a sheet about the room has come
in, and beside the work: nothing waits for it.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.aside import beside
from gatekeeper.care.curve_store import CurveStore
from gatekeeper.care.meter_watch import standing_doubts
from gatekeeper.control.chart_facts import ChartFacts, chart_of
from gatekeeper.control.review import Wanted, window_start
from gatekeeper.control.tone_facts import ToneFacts, tone_facts
from gatekeeper.filing.disk import Disk
from gatekeeper.history import HistoryAwayError
from gatekeeper.screens.lookback import review_site
from gatekeeper.show.charts import MOST_POINTS
from gatekeeper.show.meters import doubt_says
from gatekeeper.spare_memory import give_back
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from gatekeeper.clock import Clock
    from gatekeeper.control.curve import BuiltCurve
    from gatekeeper.room import Book
    from gatekeeper.site import Site

EVERY_S = 3600.0

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Trends:
    """What was seen at the last look."""

    charts: tuple[ChartFacts, ...] = ()
    curves: tuple[ToneFacts, ...] = ()  # the newest of each workflow, printer, film and setting
    news: tuple[str, ...] = ()  # what somebody should act on, in plain words
    doubts: tuple[str, ...] = ()  # meters that failed a check, and what that puts in doubt


class TrendWatch:
    """Looks at the charts of a site once in a while.

    `start` does the look, now or beside the work that goes on.
    """

    def __init__(
        self, site: Site, clock: Clock, start: Callable[[Callable[[], None]], None] = beside
    ) -> None:
        self.site = site
        self._clock = clock
        self._start = start
        self._looked_at: float | None = None
        self._trends = Trends()
        self._begun = self._shown = 0  # looks; a slow one must not cover what a later one saw

    def look(self, book: Book) -> Trends:
        """Return what the last look showed, and begin a new one when it is time."""
        now = self._clock.monotonic()
        if self._looked_at is None or now - self._looked_at > EVERY_S:
            self._looked_at = now
            self._begun += 1
            number = self._begun
            self._start(lambda: self._look(book, number))
        return self._trends

    def renew(self) -> None:
        """Look anew the next time, for something has come in that the last look could not know."""
        self._looked_at = None

    def _look(self, book: Book, number: int) -> None:
        """Look; what is wrong with history or disk is told elsewhere and leaves the last look."""
        self._look_at_weeks(book, number)
        give_back()  # weeks of readings, of which only the charts were kept

    def _look_at_weeks(self, book: Book, number: int) -> None:
        wanted = Wanted(since=window_start(self._clock.now(), self.site.time_zone))
        try:
            found = review_site(self.site, book, wanted, self._clock)
            curves = tuple(self._newest_curves(book))
            doubts = standing_doubts(self.site, book.register, self._clock)
        except (HistoryAwayError, OSError) as error:
            log.info("the charts were not looked at: %s", error)
        except Exception:  # nobody waits for this thread, so nobody else would tell
            log.exception("a fault of the program while looking at the charts")
        else:
            charts = tuple(chart_of(trend, most=MOST_POINTS) for trend in found.trends)
            says = tuple(doubt_says(doubt, self.site.time_zone) for doubt in doubts)
            if number > self._shown:
                self._shown, self._trends = number, Trends(charts, curves, found.news, says)

    def _newest_curves(self, book: Book) -> Iterator[ToneFacts]:
        newest: dict[tuple[object, ...], BuiltCurve] = {}
        for curve in CurveStore(self.site.state, Disk()).curves():  # the newest last
            newest[curve.made_for.route, curve.made_for.setting] = curve
        in_use = {fold(entry.name) for entry in book.register.curves if entry.name}
        for curve in newest.values():
            yield tone_facts(curve, "in use" if fold(curve.name) in in_use else "not in use")
