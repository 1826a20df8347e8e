"""Jobs abreast: many go through the gate in one thread, and wait together for the disk.

Each job's steps are the very steps that it takes alone, in the same order. Where it needs something
durable it stands still and the next one goes on; once all of them stand still, what they wait for
is done for all at once: one flush of a folder for fifty renames in it, one transaction for fifty
verdicts. A job goes on only when its own wish is fulfilled, so no promise of the order is loosened,
and a crash finds each of them in a state in which it could have been alone.
"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from greenlet import GreenletExit, getcurrent, greenlet

from gatekeeper.system_errors import error_of

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
    from contextlib import AbstractContextManager

    from gatekeeper.filing.disk import Disk, Flush
    from gatekeeper.filing.wholedisk import WholeDisks


@dataclass(frozen=True, slots=True)
class _Flushing:
    """Wait until all of these are on the disk."""

    flushes: tuple[Flush, ...]


@dataclass(frozen=True, slots=True)
class _Turn:
    """Wait until no earlier job that this one could meet is under way any more."""

    rank: str
    keys: frozenset[Hashable]

    def comes_after(self, other: _Turn) -> bool:
        return other.rank < self.rank and not self.keys.isdisjoint(other.keys)


@dataclass(frozen=True, slots=True)
class _Telling:
    """Wait until a verdict has been told."""

    item: Any


_Wish = _Flushing | _Turn | _Telling
_Granted = list[tuple[greenlet, Exception | None]]


class Abreast:
    """Takes tasks side by side.

    Parameters
    ----------
    disk : whose flushes are put off while tasks run
    whole : the filesystems that one call flushes
    tell : takes what several tasks have to tell, and returns what became of each
    meanwhile : called while all tasks stand still, so that a long run gives signs of life
    one_look : a block in which tasks go on until all stand still; what they ask the history there
        is asked of one moment, as nothing is told before they stand still
    """

    def __init__(
        self,
        disk: Disk,
        whole: WholeDisks,
        tell: Callable[[Sequence[Any]], Sequence[Exception | None]],
        meanwhile: Callable[[], None],
        one_look: Callable[[], AbstractContextManager[None]] = contextlib.nullcontext,
    ) -> None:
        self._disk = disk
        self._whole = whole
        self._tell = tell
        self._meanwhile = meanwhile
        self._one_look = one_look
        self._hub: greenlet | None = None
        self._wishes: dict[greenlet, _Wish] = {}  # of those that stand still
        self._under_way: dict[greenlet, _Turn] = {}  # of those that have had their turn or ask

    # -- what a task asks for ----------------------------------------------------------------

    def wait_for_turn(self, rank: str, keys: Iterable[Hashable]) -> None:
        """Return when no task of a lower rank with one of these keys is under way.

        Asked by each task once it knows whom it could meet; nobody gets a turn before all have
        asked or ended.
        """
        self._wish(_Turn(rank, frozenset(keys)))

    def wait_told(self, item: object) -> None:
        """Return when `tell` has taken the item; raise what became of it otherwise."""
        self._wish(_Telling(item))

    def _put_off(self, flushes: tuple[Flush, ...]) -> None:
        if isinstance(getcurrent(), _Task):
            self._wish(_Flushing(flushes))
        else:  # another thread, or what `tell` writes
            for flush in flushes:
                self._disk.flush(flush)

    def _wish(self, wish: _Wish) -> None:
        if self._hub is None:
            raise RuntimeError(wish)
        error = self._hub.switch(wish)
        if error is not None:
            raise error

    # -- how it goes -------------------------------------------------------------------------

    def run(self, tasks: Sequence[Callable[[], None]]) -> None:
        """Run tasks to their ends. What one raises ends the others where they stand, as a kill."""
        self._hub = getcurrent()
        with self._flushes_put_off():
            ready: _Granted = [(_Task(task), None) for task in tasks]
            while ready:
                with self._one_look():
                    for task, answer in ready:
                        self._go_on(task, answer)
                self._meanwhile()
                ready = self._flushed() or self._in_turn() or self._told()

    def _go_on(self, task: greenlet, answer: Exception | None) -> None:
        self._wishes.pop(task, None)
        wish = task.switch(answer) if task else task.switch()
        if task.dead:
            self._under_way.pop(task, None)
        else:
            self._wishes[task] = wish

    @contextlib.contextmanager
    def _flushes_put_off(self) -> Iterator[None]:
        self._disk.put_off = self._put_off
        try:
            yield
        finally:
            self._disk.put_off = None
            for task in self._wishes:
                # What a dying disk says while files are closed is not worth hearing.
                with contextlib.suppress(BaseException):
                    task.throw(GreenletExit)
            self._wishes.clear()
            self._under_way.clear()

    # -- how wishes are granted --------------------------------------------------------------

    def _flushed(self) -> _Granted:
        asked = {task: wish for task, wish in self._wishes.items() if isinstance(wish, _Flushing)}
        flushes = [flush for wish in asked.values() for flush in wish.flushes]
        errors = iter(flush_all(self._disk, self._whole, flushes))
        return [
            (task, next(filter(None, [next(errors) for _ in wish.flushes]), None))
            for task, wish in asked.items()
        ]

    def _in_turn(self) -> _Granted:
        asking = {task: wish for task, wish in self._wishes.items() if isinstance(wish, _Turn)}
        self._under_way |= asking
        return [
            (task, None)
            for task, turn in asking.items()
            if not any(turn.comes_after(other) for other in self._under_way.values())
        ]

    def _told(self) -> _Granted:
        telling = {task: wish for task, wish in self._wishes.items() if isinstance(wish, _Telling)}
        errors = self._tell([wish.item for wish in telling.values()]) if telling else ()
        return list(zip(telling, errors, strict=True))


class _Task(greenlet):
    """One job's way through the gate."""


def flush_all(disk: Disk, whole: WholeDisks, flushes: Sequence[Flush]) -> list[OSError | None]:
    """Flush several, each file and folder or each filesystem once; return what came of each.

    Of a whole filesystem nobody says which file failed: then all that was asked for there has.
    """
    done: dict[Hashable, OSError | None] = {}
    results: list[OSError | None] = []
    is_whole_enough = disk.whole_is_enough and bool(whole)
    for flush in flushes:
        device = _device_of(flush) if is_whole_enough else None
        if device is not None and device in whole:
            key: Hashable = device
            way = partial(whole.flush, device)
        else:
            key = flush.path, flush.handle
            way = partial(disk.flush, flush)
        if key not in done:
            done[key] = error_of(way)
        error = done[key]
        results.append(error and OSError(error.errno, error.strerror, str(flush.path)))
    return results


def _device_of(flush: Flush) -> int | None:
    try:
        return os.stat(flush.path if flush.handle is None else flush.handle).st_dev
    except OSError:
        return None  # it is flushed for itself, and that says what is wrong
