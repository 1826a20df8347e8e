"""Keeps rules and register up to date: looks for edits, takes up good ones, says what is broken.

A file half saved is not an error, and above all no edit: the half of a customer's file would read
like a customer who asks for less. So an edit counts when the files have been at rest for a moment.
"""

from __future__ import annotations

import logging
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.room import YAML_FOLDERS, Book, book_of, today_at
from gatekeeper.rules.files import Stamps, read_content, read_yaml_files, stamps_of
from gatekeeper.site import SITE_FILE, Site, SiteFile, site_of
from gatekeeper.wording import listing
from gatekeeper.yamlfiles.load import CannotRead, Content
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

HALF_SAVED_S = 1.0
"""An edit counts when two looks that are this far apart (s) have seen the same files."""

LIVE = frozenset(
    {
        "on_broken_rules", "floors", "rescan_s", "upkeep", "mail", "leads", "no_concession",
        "date_formats", "code_page", "max_sheet_bytes",
    }
)  # fmt: skip
"""Keys of site.yaml that are taken up while jobs are at work; folders, clock, names and the like
hold things together that were opened at the start."""

log = logging.getLogger(__name__)


class Bookkeeper:
    """The book of a site, followed through the administrator's edits.

    Parameters
    ----------
    site : as site.yaml said at the start; all but `LIVE` stays so until the next start
    monotonic : seconds of a clock that never steps
    today : the calendar day of the room; changes with dates begin when it turns
    """

    def __init__(
        self,
        site: Site,
        monotonic: Callable[[], float],
        today: Callable[[], date] | None = None,
    ) -> None:
        self.site = site
        self._today = today or (lambda: today_at(site))
        self._day = self._today()
        self._monotonic = monotonic
        self._stamps: Stamps | None = None  # of the files as they were read last
        self._seen: dict[str, Content] = {}
        self._files = self._read()
        self._last_good: dict[str, Content] = {}
        self._edit: dict[str, Content] | None = None  # seen, but not yet at rest
        self._edit_since = 0.0
        self._site_problems: tuple[FileProblem, ...] = ()
        self._for_next_start: tuple[str, ...] = ()  # keys of site.yaml, as told last
        self.book = self._take_up()

    @property
    def problems(self) -> tuple[FileProblem, ...]:
        """Every problem of every file, site.yaml's included."""
        return self.book.problems

    def look(self) -> bool:
        """Look for edits; True when one was taken up, or other rules hold since midnight."""
        files = self._read()
        if files == self._files:
            self._edit = None
            return self._not_edited(is_being_edited=False)
        if not self._is_at_rest(files):
            return self._not_edited(is_being_edited=True)
        self._edit = None
        self._files = files
        self._day = self._today()
        self.book = self._take_up()
        return True

    def _not_edited(self, *, is_being_edited: bool) -> bool:
        """Leave the files in force as they are; what is being edited, new jobs wait for."""
        has_changed = self._turn_day()
        if self.book.is_being_edited is not is_being_edited:
            self.book = replace(self.book, is_being_edited=is_being_edited)
        return has_changed

    def _turn_day(self) -> bool:
        day, before = self._today(), self.book
        if day == self._day:
            return False
        self._day = day
        self.book = self._take_up()
        return self.book.library.fingerprints() != before.library.fingerprints()

    def _is_at_rest(self, files: dict[str, Content]) -> bool:
        now = self._monotonic()
        if self._edit != files:
            self._edit, self._edit_since = files, now
        return now - self._edit_since >= HALF_SAVED_S

    def _take_up(self) -> Book:
        files = dict(self._files)
        self._follow_site(files.pop(SITE_FILE))
        book = book_of(self.site, files, self._last_good, self._site_problems, self._day)
        self._last_good |= book.good_files()
        for name in self._last_good.keys() - files.keys():
            del self._last_good[name]  # removed on purpose: a removed file is not a broken one
        return book

    def _follow_site(self, content: Content) -> None:
        """Take up what can change while jobs are at work, and name what waits for the next start.

        Under a broken site.yaml every job waits: the edit may be a tightening. Only a room that has
        chosen so goes on with the last good one.
        """
        try:
            site = site_of(self.site.root, content)
        except BrokenFilesError as error:
            self._site_problems = error.problems
            return
        self._site_problems = ()
        edited = _edited(self.site.settings, site.settings)
        taken = {name: getattr(site.settings, name) for name in edited if name in LIVE}
        settings = self.site.settings.model_copy(update=taken)
        self.site = replace(self.site, settings=settings, floors=site.floors)
        if taken:
            log.info("site.yaml: taken up: %s", listing(sorted(taken)))
        waiting = tuple(name for name in edited if name not in LIVE)
        if waiting and waiting != self._for_next_start:
            log.warning("site.yaml: taken up at the next start: %s", listing(waiting))
        self._for_next_start = waiting

    def _read(self) -> dict[str, Content]:
        """Return the files as they are; those that show no change are not read again."""
        stamps = stamps_of(self.site.root, SITE_FILE, YAML_FOLDERS)
        if stamps is None or stamps != self._stamps:
            content = read_content(self.site.root / SITE_FILE)
            if content is None:
                content = CannotRead("it is not there")
            self._seen = {SITE_FILE: content, **read_yaml_files(self.site.root, YAML_FOLDERS)}
            # A file that an editor on a share keeps to itself shows no change when it lets go.
            has_all = not any(isinstance(one, CannotRead) for one in self._seen.values())
            self._stamps = stamps if has_all else None
        return self._seen


def _edited(before: SiteFile, after: SiteFile) -> tuple[str, ...]:
    """Return the keys of site.yaml whose values differ, in the order of the file's model."""
    names = SiteFile.model_fields
    return tuple(name for name in names if getattr(before, name) != getattr(after, name))
