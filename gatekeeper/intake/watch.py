"""Watchdog wakes us; it never tells us what to do.

One watch a drop folder, not recursive, put up again when it is lost.
"""

from __future__ import annotations

import errno
import logging
import os
from typing import TYPE_CHECKING, NamedTuple

from typing_extensions import override
from watchdog.events import (
    FileClosedEvent,
    FileCreatedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers.inotify import InotifyEmitter, InotifyObserver
from watchdog.observers.inotify_c import InotifyConstants, Mask

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from watchdog.observers.api import ObservedWatch

log = logging.getLogger(__name__)


def _is_news(record: logging.LogRecord) -> bool:
    """Whether it is more than that a watch which is being taken down has been taken down."""
    return "when the thread is inactive" not in record.getMessage()


logging.getLogger("watchdog.observers.inotify").addFilter(_is_news)

# Our own reading of a file fires opened and closed-without-writing: those must not wake us.
_EVENTS: list[type[FileSystemEvent]] = [FileCreatedEvent, FileMovedEvent, FileClosedEvent]

_LIMITS = {
    errno.EMFILE: "raise the kernel's limit: sysctl fs.inotify.max_user_instances=512",
    errno.ENOSPC: "raise the kernel's limit: sysctl fs.inotify.max_user_watches=65536",
}


class _OfWhatComes(InotifyEmitter):
    """Hears of names that come, not of those that go.

    When a name goes, watchdog holds back all that is heard of its folder for half a second, to see
    where it went. Every claim of our own is such a name, and the next sheet would wait for it.
    """

    @override
    def get_event_mask_from_filter(self) -> Mask:
        """Return what the kernel is asked for."""
        return Mask(super().get_event_mask_from_filter() & ~InotifyConstants.IN_MOVED_FROM)


class _Observer(InotifyObserver):
    def __init__(self) -> None:
        super().__init__()
        self._emitter_class = _OfWhatComes


class _Wake(FileSystemEventHandler):
    """Puts a token on the queue: a slow handler blocks the observer, a raising one ends it.

    One for each watch: it counts what was heard through this one.
    """

    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake
        self.events = 0

    @override
    def on_any_event(self, event: FileSystemEvent) -> None:
        """Wake the service, whatever happened."""
        del event
        self.events += 1
        self._wake()


class _Watch(NamedTuple):
    """A folder that is watched."""

    watch: ObservedWatch
    identity: tuple[int, int]  # device and inode
    ear: _Wake


class Watcher:
    """Watches the drop folders that exist and can be read; the rescan finds whatever it misses."""

    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake
        self._observer: _Observer | None = None  # while the kernel grants none
        self._watches: dict[str, _Watch] = {}
        self.troubles: dict[str, str] = {}
        self.limit = ""  # of the kernel's that was reached, and how to raise it

    def stop(self) -> None:
        """Stop listening."""
        if self._observer:
            self._observer.stop()
            self._observer.join(timeout=5.0)

    @property
    def is_alive(self) -> bool:
        """Whether the observer's own thread runs, if there is one: what died is silent."""
        return self._observer is None or self._observer.is_alive()

    def heard(self, folder: Path) -> object:
        """Return what was heard from a folder so far, None while it is not watched.

        Another value after each event, and after each time that nobody listened.
        """
        known = self._watches.get(str(folder))
        return known and (known.ear, known.ear.events)

    def follow(self, folders: list[Path]) -> None:
        """Watch just these folders; one that was removed or replaced is watched anew."""
        wanted = {str(folder): folder for folder in folders}
        self.limit = ""
        for path in [path for path in self._watches if path not in wanted]:
            self._drop(path)
        # The thread that feeds a watch ends when the folder is removed.
        emitters = self._observer.emitters if self._observer else ()
        fed = {emitter.watch for emitter in emitters if emitter.is_alive()}
        for path, folder in wanted.items():
            self._follow(path, folder, fed)

    def _follow(self, path: str, folder: Path, fed: Collection[ObservedWatch]) -> None:
        try:
            found = folder.stat()
            readable = os.access(folder, os.R_OK | os.X_OK)
        except OSError as error:
            self._lost(path, f"cannot be watched: {error.strerror}")
            return
        if not readable:  # inotify would say yes and never report
            self._lost(path, "cannot be watched: no permission to read it")
            return
        identity = (found.st_dev, found.st_ino)
        known = self._watches.get(path)
        if known and known.identity == identity and known.watch in fed:
            self.troubles.pop(path, None)
            return
        self._drop(path)
        ear = _Wake(self._wake)
        try:
            watch = self._listening().schedule(
                ear, path, recursive=False, event_filter=list(_EVENTS)
            )
        except OSError as error:
            self._lost(path, f"cannot be watched: {error.strerror}; it is scanned instead")
            if error.errno in _LIMITS:
                self.limit = f"{error.strerror}; {_LIMITS[error.errno]}"
            return
        self._watches[path] = _Watch(watch, identity, ear)
        self.troubles.pop(path, None)

    def _listening(self) -> _Observer:
        """Return the observer at work; asked again at each look where the kernel refused one."""
        if self._observer is None:
            observer = _Observer()
            observer.start()
            self._observer = observer
        return self._observer

    def _lost(self, path: str, reason: str) -> None:
        self._drop(path)
        self.troubles[path] = reason

    def _drop(self, path: str) -> None:
        known = self._watches.pop(path, None)
        if known and self._observer:
            try:
                self._observer.unschedule(known.watch)
            except KeyError:
                log.debug("the watch on %s was gone already", path)
