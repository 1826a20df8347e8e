"""The daemon: watching wakes it, the rescan is the truth, one thread does all the work.

SIGTERM and SIGINT finish the job in hand and end; SIGHUP looks at the rules at once.
"""

from __future__ import annotations

import contextlib
import logging
import queue
import signal
import threading
from enum import Enum
from typing import TYPE_CHECKING

from gatekeeper.bookkeeper import Bookkeeper
from gatekeeper.clock import SystemClock
from gatekeeper.errors import RoomError
from gatekeeper.filing.desk import WORK
from gatekeeper.filing.lease import since_boot
from gatekeeper.herald import Herald
from gatekeeper.history import EventKind
from gatekeeper.intake.watch import Watcher
from gatekeeper.notify import TURN_S, notify, sign_of_life
from gatekeeper.record.refill import Refill
from gatekeeper.record.rules_event import rules_event
from gatekeeper.record.rules_taken_up import tell_rules
from gatekeeper.rounds.approved import Lookout
from gatekeeper.rounds.outlook import in_words
from gatekeeper.single import only_one
from gatekeeper.spare_memory import give_back
from gatekeeper.upkeep.chores import Chores
from gatekeeper.upkeep.clock_watch import ClockWatch
from gatekeeper.upkeep.metrics import Metrics
from gatekeeper.upkeep.scheduler import Upkeep
from gatekeeper.workshop import PROGRAM, rounds_of, teller_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.rounds.outlook import Outlook
    from gatekeeper.single import SiteLock
    from gatekeeper.site import Site

log = logging.getLogger(__name__)

MANY_JOBS = 200
"""After so many jobs memory that they left free is given back."""


class Token(Enum):
    """Why the working thread wakes."""

    LOOK = "look"
    BEAT = "beat"
    RELOAD = "reload"
    CHORES = "chores"
    LOOKED = "looked"
    STOP = "stop"


class Service:
    """The gate of one site, at work until it is told to stop."""

    def __init__(
        self,
        site: Site,
        clock: Clock | None = None,
        steady: Callable[[], float] = since_boot,
    ) -> None:
        self.site = site
        self.clock = clock or SystemClock()
        self.bookkeeper = Bookkeeper(site, self.clock.monotonic)
        self.watcher = Watcher(self.wake)
        self.rounds = rounds_of(
            site,
            self.clock,
            lambda: self.bookkeeper.book,
            current=lambda: self.bookkeeper.site,
            heard=self.watcher.heard,
        )
        self.refill = Refill(site, self.rounds.ledger)
        self._lock: SiteLock | None = None
        self._tokens: queue.SimpleQueue[Token] = queue.SimpleQueue()
        self._look_pending = threading.Event()
        self._stopping = threading.Event()
        self._is_ready = False  # the first round is over
        self._tidied = 0  # jobs that had been filed when memory was given back last
        self.teller = teller_of(site, self.rounds.disk)
        self.lookout = Lookout(
            self.rounds.disk, self.rounds.roots, lambda: self._tokens.put(Token.LOOKED)
        )
        self.chores = Chores(
            site,
            self.rounds.disk,
            self.clock,
            self.rounds.ledger.history,
            self.lookout.begin,
        )
        self.clock_watch = ClockWatch(
            self.clock.now,
            steady,
            lambda step: self.rounds.ledger.note(EventKind.CLOCK, site.gate, step),
        )
        self._clock_alarms: tuple[str, ...] = ()
        self.herald = Herald(
            site,
            self.clock,
            self.bookkeeper,
            Metrics(site, self.clock, self.rounds.ledger.history),
            troubles=self._troubles_beside,
            for_log=lambda: [f"{path} {why}" for path, why in self.watcher.troubles.items()],
            for_screens=lambda: self.chores.troubles,
        )
        self.upkeep = Upkeep(
            site.time_zone,
            rescan_s=site.settings.rescan_s,
            rescan=self.wake,
            beat=lambda: self._tokens.put(Token.BEAT),
            times=self.chores.times.values(),
            chores=lambda: self._tokens.put(Token.CHORES),
            letters=self.chores.send_letters_beside,
        )

    # -- tokens -------------------------------------------------------------------------------

    def wake(self) -> None:
        """Ask for a round; a hundred events before it starts are one round."""
        if not self._look_pending.is_set():
            self._look_pending.set()
            self._tokens.put(Token.LOOK)

    def stop(self) -> None:
        """Ask to end after the job in hand."""
        self._stopping.set()
        self._tokens.put(Token.STOP)

    def reload(self) -> None:
        """Ask for a look at the rule files now."""
        self._tokens.put(Token.RELOAD)

    # -- running ------------------------------------------------------------------------------

    def run(self) -> None:
        """Work until told to stop."""
        with only_one(self.site.state, self.site.gate) as self._lock, _signals(self):
            log.info("%s begins at %s", PROGRAM, self.site.root)
            self.rounds.ledger.note(EventKind.START, self.site.gate, {"program": PROGRAM})
            self.refill.look(sign_of_life)
            tell_rules(self.rounds.ledger, self.site.state, self.bookkeeper.book.library)
            self.upkeep.start()
            if self.teller:
                self.teller.start()
            try:
                self._work()
            finally:
                notify(STOPPING="1", wait_s=TURN_S)
                self.upkeep.stop()
                if self.teller:
                    self.teller.stop()
                self.watcher.stop()
                self.lookout.stop()
                if not self._state_trouble():
                    self.herald.end()
                    self.rounds.ledger.note(EventKind.STOP, self.site.gate, {"program": PROGRAM})
                self.rounds.ledger.history.close()
                log.info("%s ends", PROGRAM)

    def _work(self) -> None:
        due_s: float | None = 0.0  # watch first, then scan: the first act is a round
        while not self._stopping.is_set():
            token = self._next_token(due_s)
            trouble = self._state_trouble()
            if token is Token.STOP:
                return
            if trouble:
                self._say_away(trouble)
                due_s = self.site.settings.rescan_s
                continue
            self._do_beside(token)
            if token is Token.BEAT and due_s is None:
                self._sign_of_life()
                self.herald.catch_up()
            else:
                due_s = self._go_round()

    def _do_beside(self, token: Token | None) -> None:
        """Do what a token asks for beside a round."""
        self._follow_rules()
        is_time = self._is_ready and token in {Token.CHORES, Token.BEAT}
        if is_time:
            self.refill.go(self._sign_of_life)  # of a server that was away at the start
        self._clock_alarms = self.clock_watch.look()  # right before the clock is gone by
        if is_time and not self.clock_watch.is_doubtful:
            self.chores.work(self.bookkeeper.book)
        if token is Token.LOOKED:
            self._take_out_of_approved()

    def _go_round(self) -> float | None:
        """Go round and tell what was found; return when the next one is due (s)."""
        self._look_pending.clear()
        self.watcher.follow(self._watched_folders())
        outlook = self.rounds.go(self._is_stopping)
        self.refill.look(self._sign_of_life)  # of a file that was removed under the daemon
        trouble = self._state_trouble()
        if trouble:
            self.herald.note_filed(outlook.filed)
            self._say_away(trouble)
            return self.site.settings.rescan_s
        self._tell(outlook)
        self._sign_of_life()
        if not self._is_ready:
            self._is_ready = True
            notify(READY="1", wait_s=TURN_S)
            self.lookout.begin()
        return outlook.next_due_s

    def _state_trouble(self) -> str:
        """Return why the state folder must not be written to, "" where it is in its place."""
        try:
            if self._lock:
                self._lock.require()
        except (RoomError, OSError) as error:
            return in_words(error)
        return ""

    def _say_away(self, trouble: str) -> None:
        """Tell what can still be told: screens live in the state folder."""
        self._look_pending.clear()
        self.herald.tell_log(trouble)
        self._sign_of_life()

    def _is_stopping(self) -> bool:
        """Whether to end; asked between two jobs, however many there are, so a sign of life too."""
        self._sign_of_life()
        return self._stopping.is_set()

    def _take_out_of_approved(self) -> None:
        """Take to held what the look at approved has found, and keep it for the screens."""
        try:
            outlook = self.rounds.check_approved(self.lookout.result())
        except (RoomError, OSError) as error:
            self.chores.could_not_check(error)
        else:
            self.chores.checked(outlook.alarms)
            self.herald.note_filed(outlook.filed)

    def _next_token(self, due_s: float | None) -> Token | None:
        try:
            return self._tokens.get(timeout=None if due_s is None else max(due_s, 0.001))
        except queue.Empty:
            return None

    def _follow_rules(self) -> None:
        before, site = self.bookkeeper.book, self.bookkeeper.site
        if not self.bookkeeper.look():
            return
        log.info("rules or register were edited and taken up")
        self._follow_site(site)
        document = rules_event(
            self.site.root, before, self.bookkeeper.book, self.bookkeeper.problems
        )
        tell_rules(self.rounds.ledger, self.site.state, self.bookkeeper.book.library, document)
        self.wake()

    def _follow_site(self, before: Site) -> None:
        """Hand an edit of site.yaml to those who go by it besides the gate."""
        site = self.bookkeeper.site
        if site.settings != before.settings:
            self.chores.follow(site)
            self.upkeep.follow(self.chores.times.values(), site.settings.rescan_s)

    def _watched_folders(self) -> list[Path]:
        with contextlib.suppress(OSError):
            inner = [
                entry
                for entry in sorted(self.site.drop.iterdir())
                if entry.is_dir() and entry.name != WORK
            ]
            return [self.site.drop, *inner]
        return [self.site.drop]

    def _tell(self, outlook: Outlook) -> None:
        """Tell how it stands, and do what can wait until nobody does."""
        told = self.herald.tell_in_time(outlook, more_comes=self._look_pending.is_set())
        if told is None:
            return
        if told:
            self.rounds.situation().catch_up()
        if self.rounds.filed - self._tidied >= MANY_JOBS:
            self._tidied = self.rounds.filed
            give_back()

    def _troubles_beside(self) -> Iterator[str]:
        """Yield what is wrong beside the rounds."""
        yield from self._clock_alarms
        if self.watcher.limit:
            every_s = self.bookkeeper.site.settings.rescan_s
            yield f"new sheets are seen only every {every_s:g} s: {self.watcher.limit}"
        if self.refill.trouble:
            yield self.refill.trouble
        if self.teller and self.teller.trouble:
            yield self.teller.trouble

    def _sign_of_life(self) -> None:
        """Tell systemd only while every thread lives: one that died by an exception is silent."""
        tells = self.teller is None or self.teller.is_alive
        if self.watcher.is_alive and self.upkeep.is_alive and tells:
            sign_of_life()


@contextlib.contextmanager
def _signals(service: Service) -> Iterator[None]:
    """Turn signals into tokens for as long as the service runs."""
    actions: dict[signal.Signals, Callable[..., None]] = {
        signal.SIGTERM: lambda *_: service.stop(),
        signal.SIGINT: lambda *_: service.stop(),
        signal.SIGHUP: lambda *_: service.reload(),
    }
    before = {number: signal.signal(number, action) for number, action in actions.items()}
    signal.signal(signal.SIGIO, signal.SIG_IGN)  # of read leases; see intake/settle.py
    try:
        yield
    finally:
        for number, action in before.items():
            signal.signal(number, action)
