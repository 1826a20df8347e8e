"""How the gate is doing, as a text file for a node exporter: state/metrics/gatekeeper.prom.

The file is a help for whoever watches many machines, not a record: it is swapped in whole, not
flushed, and nothing that goes wrong with it keeps the gate from its work. Everything in it is a
gauge of this moment or of the last day, so a restart makes no false step in any curve.

Names    those of the Prometheus guide: the unit at the end, seconds and not days but for due dates,
         which nobody counts in seconds.
"""

from __future__ import annotations

import logging
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Final, TypeAlias

from prometheus_client import CollectorRegistry, Gauge, write_to_textfile

from gatekeeper import __version__
from gatekeeper.history import HistoryAwayError
from gatekeeper.history.past import Lately
from gatekeeper.screens.dues import expiries

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from gatekeeper.clock import Clock
    from gatekeeper.history.past import Counts
    from gatekeeper.history.query import Lookup
    from gatekeeper.room import Book
    from gatekeeper.rounds.outlook import Waiting
    from gatekeeper.screens.present import Present
    from gatekeeper.site import Site

FOLDER: Final = "metrics"
FILE: Final = "gatekeeper.prom"

EVERY_S: Final = 60.0
"""Time between two writings (s): an exporter is seldom asked more often."""

LAST_DAY: Final = timedelta(days=1)

log = logging.getLogger(__name__)

Values: TypeAlias = "Mapping[tuple[str, ...], float]"
"""What a gauge shows, by its labels' values."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the history told; nothing where it is away."""

    counts: Counts | None = None
    lately: Lately | None = None


class Metrics:
    """Writes the file now and then."""

    def __init__(self, site: Site, clock: Clock, history: Lookup) -> None:
        self._site = site
        self._clock = clock
        self._history = history
        self._begun_s = clock.now().timestamp()
        self._written: float | None = None
        self._waiting: tuple[Waiting, ...] = ()
        self._seen: dict[tuple[str, str], float] = {}  # what waits → since when
        self._is_well = True

    def follow(self, book: Book, present: Present) -> None:
        """Write what the daemon saw, if it is time; what goes wrong is said once, never raised."""
        now = self._clock.monotonic()
        self._note(present.waiting, now)
        if self._written is not None and now - self._written < EVERY_S:
            return
        self._written = now
        try:
            self._write(book, present, now - min(self._seen.values(), default=now))
        except OSError as error:
            if self._is_well:
                log.warning("the metrics cannot be written: %s", error.strerror)
            self._is_well = False
        else:
            self._is_well = True

    def _note(self, waiting: tuple[Waiting, ...], now: float) -> None:
        """Note since when each thing waits; what is gone is forgotten."""
        if waiting != self._waiting:
            keys = ((entry.folder, entry.name) for entry in waiting)
            self._seen = {key: self._seen.get(key, now) for key in keys}
            self._waiting = waiting

    def _write(self, book: Book, present: Present, oldest_s: float) -> None:
        folder = self._site.state / FOLDER
        folder.mkdir(exist_ok=True)
        registry = CollectorRegistry(auto_describe=True)
        page = _Page(registry)
        told = self._ask()
        page.one("history_available", "1 while the history can be asked", float(bool(told.counts)))
        _jobs(page, told)
        _waiting(page, present.waiting, oldest_s)
        _health(page, present, begun_s=self._begun_s, now_s=self._clock.now().timestamp())
        _dues(page, self._days_left(book))
        write_to_textfile(str(folder / FILE), registry)

    def _ask(self) -> Told:
        try:
            since = self._clock.now() - LAST_DAY
            return Told(self._history.counts(), self._history.lately(since=since))
        except HistoryAwayError:
            return Told()

    def _days_left(self, book: Book) -> dict[str, int]:
        """Return the days to each subject's first last day; below 0 it is past."""
        today = self._clock.now().astimezone(self._site.time_zone).date()
        found: dict[str, int] = {}
        for expiry in expiries(book.register, book.library):
            found.setdefault(expiry.subject, (expiry.last_day - today).days)
        return found


class _Page:
    """Gauges under our own prefix."""

    def __init__(self, registry: CollectorRegistry) -> None:
        self._registry = registry

    def one(self, name: str, says: str, value: float) -> None:
        Gauge(f"gatekeeper_{name}", says, registry=self._registry).set(value)

    def many(self, name: str, says: str, labels: tuple[str, ...], values: Values) -> None:
        gauge = Gauge(f"gatekeeper_{name}", says, labels, registry=self._registry)
        for words, value in values.items():
            gauge.labels(*map(_storable, words)).set(value)


def _storable(text: str) -> str:
    """Return text without what UTF-8 has no bytes for: names on disk may hold it."""
    return text.encode("utf-8", "backslashreplace").decode()


def _jobs(page: _Page, told: Told) -> None:
    standing: Values = {
        (count.workflow, decision): float(jobs)
        for count in (told.counts.by_workflow if told.counts else ())
        for decision, jobs in (("approved", count.approved), ("held", count.held))
    }
    labels = ("workflow", "decision")
    page.many("jobs", "jobs by workflow and where they stand now", labels, standing)
    lately = told.lately or Lately({}, {}, None, None)
    given: Values = {words: float(verdicts) for words, verdicts in lately.given.items()}
    page.many("verdicts_last_day", "verdicts of the last day", labels, given)
    rules: Values = {(rule,): float(verdicts) for rule, verdicts in lately.held_by.items()}
    page.many("holds_last_day", "verdicts that a rule held", ("rule",), rules)
    waits_s = {("0.5",): lately.median_s, ("1",): lately.longest_s}
    latency: Values = {words: value for words, value in waits_s.items() if value is not None}
    says = "from arrival to the filed verdict, over the last day"
    page.many("verdict_latency_seconds", says, ("quantile",), latency)


def _counted(labels: Iterable[tuple[str, ...]]) -> Values:
    return {words: float(number) for words, number in Counter(labels).items()}


def _waiting(page: _Page, waiting: Iterable[Waiting], oldest_s: float) -> None:
    by_folder = _counted((entry.folder,) for entry in waiting)
    page.many("waiting", "files and jobs that wait", ("folder",), by_folder)
    page.one("waiting_oldest_seconds", "for how long the oldest of them has waited", oldest_s)


def _health(page: _Page, present: Present, *, begun_s: float, now_s: float) -> None:
    page.many("build_info", "version of the program", ("version",), {(__version__,): 1.0})
    page.one("start_time_seconds", "when the daemon began, Unix time", begun_s)
    page.one("last_round_time_seconds", "when it last went round, Unix time", now_s)
    page.one("alarms", "what is wrong with the room", len(present.alarms))
    page.one("broken_rules", "problems in files of the administrator", len(present.broken_rules))
    page.one("drifts", "series that will leave their tolerance soon", len(present.news))


def _dues(page: _Page, days_left: Mapping[str, int]) -> None:
    says = "days until something runs out; below 0 it has"
    page.many("due_days", says, ("subject",), {(name,): days for name, days in days_left.items()})
