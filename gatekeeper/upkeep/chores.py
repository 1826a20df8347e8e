"""The daily work: check of approved, digest, copy of the history, archive; one thread, in turn.

What was done is written down after it was done, so a kill in between does it once more: the digest
is written over, the copy of the day is there already, the archive finds nothing left. What fails is
told, and tried again after `PAUSE_S`. Letters are sent beside the work, for a mail server may take
its time.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import threading
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.archive import Archive
from gatekeeper.filing.trouble import OfflineError
from gatekeeper.history_settings import is_on_server
from gatekeeper.mail.letter import letter, letter_bytes
from gatekeeper.mail.posting import Post
from gatekeeper.room import roots_of
from gatekeeper.screens.morning import digest_of
from gatekeeper.show.digest import digest_html, digest_text, subject
from gatekeeper.upkeep.copies import BACKUPS, PREFIX, copy_name, superseded
from gatekeeper.upkeep.timetable import counted_from, due, latest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import time
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.disk import Disk
    from gatekeeper.history.record import History
    from gatekeeper.room import Book
    from gatekeeper.site import Site

CHECK = "check of approved"
DIGEST = "digest"
BACKUP = "backup"
ARCHIVE = "archive"
MAIL = "mail"

DONE_FILE = "upkeep.json"
DIGESTS = "digests"
LETTERS = "letters"

PAUSE_S = 600.0
"""After a failure the task is left alone for so long (s)."""

_DAY = timedelta(days=1)
_MOST_NOTES = 100_000

log = logging.getLogger(__name__)


class Chores:
    """Does what is due."""

    def __init__(
        self,
        site: Site,
        disk: Disk,
        clock: Clock,
        history: History,
        check: Callable[[], None] = lambda: None,
    ) -> None:
        """Set up the timetable.

        Parameters
        ----------
        check : begins to look at all that stands in approved; `checked` is told what came of it
        """
        self.site = site
        self.alarms: dict[str, str] = {}  # task → why it failed
        self.found: tuple[str, ...] = ()  # by the last check of approved
        self._disk = disk
        self._clock = clock
        self._history = history
        self._not_before: dict[str, float] = {}
        self._anew: dict[str, datetime] = {}  # task → from where it counts since the clock was set
        self._known: dict[str, datetime] | None = None  # the last run of each, once it was read
        self._sender: threading.Thread | None = None
        self._tasks: dict[str, Callable[[Book, datetime], None]] = {
            CHECK: lambda _book, _since: check(),
            DIGEST: self._digest,
            BACKUP: lambda _book, _since: self._backup(),
            ARCHIVE: lambda _book, _since: self._archive(),
        }
        self.post = Post(site.state / LETTERS, site.root, disk)

    @property
    def times(self) -> Mapping[str, time]:
        """The timetable: only what the site has asked for."""
        settings = self.site.settings.upkeep
        wanted = {
            CHECK: settings.check_at,
            DIGEST: settings.digest_at,
            BACKUP: settings.backup_at,
            ARCHIVE: settings.archive_at,
        }
        return {task: at for task, at in wanted.items() if at is not None}

    def follow(self, site: Site) -> None:
        """Go by what site.yaml says now.

        A time that has gone by today when it was written is first due tomorrow; a run that is due
        by the old time stays due.
        """
        now, zone = self._clock.now(), self.site.time_zone
        before, done = self.times, self._done(now)
        overdue = due(before, done, now, zone)
        self.site = site
        for task, at in self.times.items():
            if before.get(task) != at and task not in overdue:
                done[task] = max(latest(at, now, zone), done.get(task, now - _DAY))
        self._write_done(done)

    def work(self, book: Book) -> list[str]:
        """Do what is due, and return what was done; whatever fails is told, never raised."""
        now = self._clock.now()
        done = self._done(now)
        since = done | self._counted_anew(done, now)
        finished = []
        for task in due(self.times, since, now, self.site.time_zone):
            if self._clock.monotonic() < self._not_before.get(task, 0.0):
                continue
            try:
                self._tasks[task](book, since[task])
            except (RoomError, OSError) as error:
                self._failed(task, error)
                continue
            except Exception:  # the gate goes on whatever is wrong with its chores
                log.exception("a fault of the program in the %s", task)
                self._failed(task, RoomError("it failed inside the program; see the log"))
                continue
            self.alarms.pop(task, None)
            done[task] = latest(self.times[task], now, self.site.time_zone)
            self._write_done(done)
            finished.append(task)
            log.info("%s done", task)
        if DIGEST in finished and self.site.settings.mail:
            self.send_letters_beside()
        return finished

    def _counted_anew(self, done: Mapping[str, datetime], now: datetime) -> dict[str, datetime]:
        """Return from where tasks count that were done by a clock that was ahead of this one.

        Written down it is not: the clock may be wrong now, and be back in a moment.
        """
        ahead = counted_from(self.times, done, now, self.site.time_zone)
        self._anew = {task: self._anew.get(task, moment) for task, moment in ahead.items()}
        return self._anew

    def checked(self, wrong: Sequence[str]) -> None:
        """Keep what is wrong in approved for the screens, until the next check."""
        self.found = tuple(wrong)
        self.alarms.pop(CHECK, None)
        for says in wrong:
            log.warning("%s: %s", CHECK, says)

    def could_not_check(self, error: RoomError | OSError) -> None:
        """Say why approved could not be checked; the check is due again after a pause.

        A folder that is away is told by every round, and not once more here.
        """
        if isinstance(error, OfflineError):
            self._rests(CHECK)
        else:
            self._failed(CHECK, error)
        if CHECK in self.times:
            done = self._done(self._clock.now())
            done[CHECK] -= _DAY
            self._write_done(done)

    def send_letters_beside(self) -> None:
        """Send the letters that wait in a thread of its own, which ends with the program."""
        if self._sender is None or not self._sender.is_alive():
            self._sender = threading.Thread(target=self.send_letters, name="letters", daemon=True)
            self._sender.start()

    @property
    def troubles(self) -> tuple[str, ...]:
        """What fails at present, for every screen."""
        failed = (f"{task}: {says}" for task, says in sorted(self.alarms.items()))
        return (*self.found, *failed)

    def send_letters(self) -> None:
        """Send the letters that wait. Raises nothing but faults of the program."""
        if self.site.settings.mail is None:
            return
        try:
            posted = self.post.send(self.site.settings.mail, self._clock.now())
        except (RoomError, OSError) as error:
            self._tell(MAIL, error)
            return
        for name in posted.aside:
            log.warning("the letter %s could not be sent for two days and was put aside", name)
        self.alarms.pop(MAIL, None)

    # -- what was done ------------------------------------------------------------------------

    def _done(self, now: datetime) -> dict[str, datetime]:
        """Return the last run of each task; a task that is new counts from now on."""
        done = self._read_done() if self._known is None else self._known
        fresh = {
            task: latest(at, now, self.site.time_zone)
            for task, at in self.times.items()
            if task not in done
        }
        if fresh:
            done |= fresh
            self._write_done(done)
        self._known = done
        return done

    def _read_done(self) -> dict[str, datetime]:
        with contextlib.suppress(OSError, ValueError, TypeError, AttributeError):
            notes = json.loads(self._disk.read(self.site.state / DONE_FILE, _MOST_NOTES))
            moments = {task: datetime.fromisoformat(text) for task, text in notes.items()}
            return {task: moment for task, moment in moments.items() if moment.tzinfo}
        return {}

    def _write_done(self, done: Mapping[str, datetime]) -> None:
        notes = {task: moment.isoformat() for task, moment in done.items()}
        try:
            self._swap(self.site.state / DONE_FILE, f"{json.dumps(notes)}\n".encode())
        except OSError as error:
            log.warning("what was done cannot be written down: %s", error.strerror)

    def _failed(self, task: str, error: RoomError | OSError) -> None:
        self._rests(task)
        self._tell(task, error)

    def _rests(self, task: str) -> None:
        self._not_before[task] = self._clock.monotonic() + PAUSE_S

    def _tell(self, task: str, error: RoomError | OSError) -> None:
        says = error.what if isinstance(error, RoomError) else str(error.strerror or error)
        if self.alarms.get(task) != says:
            log.warning("%s failed: %s", task, says)
        self.alarms[task] = says

    # -- the tasks ----------------------------------------------------------------------------

    def _digest(self, book: Book, since: datetime) -> None:
        now = self._clock.now()
        digest = digest_of(self.site, book, since, self._clock)
        zone = self.site.time_zone
        text, html = digest_text(digest, zone), digest_html(digest, zone)
        folder = self.site.state / DIGESTS
        folder.mkdir(exist_ok=True)
        name = digest.day.isoformat()
        for ending, content in (("txt", text), ("html", html)):
            self._swap(folder / f"{name}.{ending}", content.encode())
        if self.site.settings.mail:
            key = f"digest-{name}-{self.site.mark}"
            message = letter(
                self.site.settings.mail,
                subject=subject(digest),
                text=text,
                html=html,
                at=now.astimezone(zone),
                key=key,
            )
            self.post.put(f"digest-{name}", letter_bytes(message))

    def _backup(self) -> None:
        if is_on_server(self.site.settings.history):
            return  # a database server has backups of its own
        folder = self.site.state / BACKUPS
        folder.mkdir(exist_ok=True)
        today = self._clock.now().astimezone(self.site.time_zone).date()
        target = folder / copy_name(today)
        names = self._disk.names(folder)
        cut_off = [name for name in names if name.startswith(f".{PREFIX}")]
        if target.name not in names:  # a copy appears whole or not at all
            self._history.backup(target)
        settings = self.site.settings.upkeep
        old = superseded(names, today, settings.keep_days, settings.keep_months)
        for name in (*cut_off, *old):
            self._disk.unlink(folder / name)

    def _archive(self) -> None:
        settings = self.site.settings.upkeep
        before = self._clock.now() - settings.archive_after_days * _DAY
        archive = Archive(self._disk, roots_of(self.site), self.site.archive, self.site.time_zone)
        done = archive.move_older(before)
        for left in done.left:
            log.warning("not archived: %s", left)
        if done.moved:
            log.info("%d approved jobs were moved to the archive", len(done.moved))

    def _swap(self, path: Path, content: bytes) -> None:
        fresh = path.with_name(f".{path.name}.{os.getpid()}")
        self._disk.unlink(fresh)
        self._disk.write_new(fresh, content)
        fresh.replace(path)
        self._disk.sync(path.parent)
