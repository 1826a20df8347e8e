"""Opens the history at its first use, hands out transactions, turns each failure into words."""

from __future__ import annotations

import logging
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from threading import Lock, get_ident
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy.exc import SQLAlchemyError

from gatekeeper.history import chain, trouble
from gatekeeper.history.canonical import storable
from gatekeeper.history.interface import EventKind, HistoryAwayError, Upgrade
from gatekeeper.history.migrations import bring_up

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterator
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy import Connection, Engine

    from gatekeeper.clock import Clock
    from gatekeeper.history.interface import Wait
    from gatekeeper.history.stores import Store


log = logging.getLogger(__name__)

Answer = TypeVar("Answer")


@dataclass(slots=True)
class _Look:
    """A connection that several questions of one thread share."""

    thread: int = field(default_factory=get_ident)
    opened: ExitStack = field(default_factory=ExitStack)
    connection: Connection | None = None  # before the first question, and after one that failed
    answers: dict[Hashable, Any] = field(default_factory=dict)


class Database:
    """One history. After a failure it is left alone for a while, then checked and opened again."""

    def __init__(
        self,
        store: Store,
        *,
        site: str,
        clock: Clock,
        program: str,
        wait: Wait,
        begins: bool = True,
    ) -> None:
        self.site = storable(site)
        self.begun = ""  # why a new history is still to be filled; empty where it need not
        self._store = store
        self._clock = clock
        self._program = program
        self._wait = wait
        self._begins = begins  # a chain where there is none; what is carried in brings its own
        self._engine: Engine | None = None
        self._users = 0
        self._found = 0  # version of the tables when they were opened
        self._lock = Lock()
        self._look: _Look | None = None
        self._pause_ends = float("-inf")
        self._trouble: HistoryAwayError | None = None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of the history."""
        look = self._look
        if look is None or look.thread != get_ident():
            with self._connection(writes=False) as connection:
                yield connection
            return
        if look.connection is None:
            look.connection = look.opened.enter_context(self._connection(writes=False))
        try:
            yield look.connection
        except BaseException as error:
            look.connection = None
            look.answers.clear()
            look.opened.__exit__(type(error), error, error.__traceback__)  # says it in words
            raise

    @contextmanager
    def one_look(self) -> Iterator[None]:
        """Let all that this thread asks in the block see one moment: that of the first question.

        A connection for each of a hundred short questions costs more than their answers. After a
        question that fails the next one tries anew, as it would without the block.
        """
        self._look = look = _Look()
        try:
            yield
        finally:
            self._look = None
            with suppress(HistoryAwayError):  # all that was asked has been answered
                look.opened.close()

    def asked_once(self, question: Hashable, ask: Callable[[Connection], Answer]) -> Answer:
        """Return the answer to a question; within a look it is the same however often asked."""
        look = self._look
        known = look.answers if look and look.thread == get_ident() else {}
        if question not in known:
            with self.reading() as connection:
                known[question] = ask(connection)
        answer: Answer = known[question]
        return answer

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are durable when the block ends, or not made at all.

        Raises
        ------
        HistoryAwayError : they are not made; or the file has gone, and they went with it
        """
        with self._connection(writes=True) as connection:
            yield connection
        self._still_there()
        self._pause_ends = float("-inf")  # whoever held it locked has let go

    def now(self) -> datetime:
        """Return the present moment."""
        return self._clock.now()

    def upgraded(self) -> Upgrade:
        """Open the history, which brings its tables to this program's version, and say so."""
        with self.reading():
            version = self._store.goal.version
        return Upgrade(self._found or version, version, self._store.kept)

    def is_filled(self) -> None:
        """Take to note that a new history holds by now what the job folders tell."""
        self._store.is_filled()
        self.begun = ""

    def copy_to(self, target: Path) -> None:
        """Write a consistent, durable copy to a new file."""
        with self._in_use() as engine:
            self._store.copy_to(engine, target)

    def close(self) -> None:
        """Let go of the database; the next use opens it again."""
        with self._lock:
            self._drop(is_sound=True)

    @contextmanager
    def _connection(self, *, writes: bool) -> Iterator[Connection]:
        with self._in_use() as engine:
            self._still_there()
            options = {"writes": writes, "site": self.site, "hurries": self._rests}
            with engine.connect().execution_options(**options) as connection:
                try:
                    with connection.begin():
                        yield connection
                finally:
                    if engine is not self._engine:  # let go of meanwhile: no pool waits for it
                        connection.invalidate()

    @contextmanager
    def _in_use(self) -> Iterator[Engine]:
        try:
            yield self._enter()
        except (SQLAlchemyError, OSError) as error:
            raise self._failed(error) from error
        except ValueError as error:
            raise trouble.not_understood(str(error), self._store.name) from error
        finally:
            with self._lock:
                self._users -= 1

    def _enter(self) -> Engine:
        with self._lock:
            self._users += 1
            if self._engine is None:
                self._refuse_to_hurry()
                self._engine = self._open()
                self.begun = self.begun or self._store.unfilled
                self._trouble = None
            return self._engine

    @property
    def _rests(self) -> bool:
        """Whether the last failure was a moment ago: what is locked is not waited for once more."""
        return self._clock.monotonic() < self._pause_ends

    def _refuse_to_hurry(self) -> None:
        last = self._trouble
        if last is not None and self._rests:
            raise HistoryAwayError(last.what, last.where, last.do)
        if self._users > 1:
            # Closing the last connection of a deleted file deletes the log beside the new one.
            raise trouble.still_read(self._store.name)

    def _open(self) -> Engine:
        now = self._clock.now()
        engine, why = self._store.open(now)
        if not self._store.writable:
            return engine
        if self._prepare(engine, now, why):
            self._say_upgraded()
            return engine
        why = self._store.set_aside(now, "the end of the audit chain does not hold")
        engine, _ = self._store.open(now)
        self._prepare(engine, now, why)
        return engine

    def _say_upgraded(self) -> None:
        version, kept = self._store.goal.version, self._store.kept
        if 0 < self._found < version:
            copied = f"; as it was before it lies beside it as {kept}" if kept else ""
            log.info("history led from version %d to %d%s", self._found, version, copied)

    def _prepare(self, engine: Engine, now: datetime, why: str) -> bool:
        """Bring tables up to date, begin the chain where there is none; say if its end holds."""
        is_sound = False
        try:
            options = {"writes": True, "site": self.site, "prepares": True}
            with engine.connect().execution_options(**options) as connection, connection.begin():
                goal = self._store.goal
                found = bring_up(connection, at=now, program=self._program, goal=goal)
                self._found = found
                is_sound = chain.end_is_sound(connection, self.site)
                if is_sound:
                    self._tell(connection, now, found, why)
        finally:
            if not is_sound:
                self._store.let_go(engine, is_sound=False)
        return is_sound

    def _tell(self, connection: Connection, now: datetime, found: int, why: str) -> None:
        version = self._store.goal.version
        document = {"program": self._program, "from_version": found, "version": version}
        if chain.last(connection, self.site) is None:
            if not self._begins:
                return
            self.begun = why or "the history held nothing of this site"
            document["why"] = self.begun
            happening = chain.Happening(now, EventKind.BEGUN, self.site, document)
        elif found < version:
            document["copy"] = self._store.kept
            happening = chain.Happening(now, EventKind.UPGRADED, self.site, document)
        else:
            return
        chain.append(connection, self.site, happening)

    def _still_there(self) -> None:
        try:
            self._store.check_still_there()
        except HistoryAwayError:
            self.close()
            raise

    def _failed(self, error: Exception) -> HistoryAwayError:
        """Let go of what may be broken; the next opening looks at all of it again."""
        away = self._store.explain(error)
        with self._lock:
            if not self._store.is_passing(error):
                self._drop(is_sound=False)
            self._trouble = away
            self._pause_ends = self._clock.monotonic() + self._wait.pause_s
        return away

    def _drop(self, *, is_sound: bool) -> None:
        if self._engine is not None:
            self._store.let_go(self._engine, is_sound=is_sound)
        self._engine = None
