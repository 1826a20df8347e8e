"""Keeps rules and register up to date: looks for edits, takes up good ones, says what is broken.

A file half saved is not an error: a broken edit counts only when it is still broken after a short
rest.
"""

from __future__ import annotations

import logging
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.errors import UsageError
from gatekeeper.room import YAML_FOLDERS, Book, book_of
from gatekeeper.rules.files import read_yaml_files
from gatekeeper.site import SITE_FILE, Site, site_of
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Callable

HALF_SAVED_S = 1.0
"""An edit that is broken must stay as it is for this long before it counts (s)."""

log = logging.getLogger(__name__)


class Bookkeeper:
    """The book of a site, followed through the administrator's edits."""

    def __init__(self, site: Site, monotonic: Callable[[], float]) -> None:
        self.site = site
        self._monotonic = monotonic
        self._files = self._read()
        self._last_good: dict[str, bytes] = {}
        self._suspect: dict[str, bytes] | None = None
        self._suspect_since = 0.0
        self._site_problems: tuple[FileProblem, ...] = ()
        self.book = self._take_up(self._files)

    @property
    def problems(self) -> tuple[FileProblem, ...]:
        """Every problem of every file, site.yaml's included."""
        return tuple(sorted({*self.book.problems, *self._site_problems}))

    def look(self) -> bool:
        """Look for edits; True when something was taken up."""
        files = self._read()
        if files == self._files:
            self._suspect = None
            return False
        site_file, rest = self._split(files)
        book = book_of(self.site, rest, self._last_good)
        if book.problems and self._might_be_half_saved(files):
            return False
        self._suspect = None
        self._files = files
        self._follow_site(site_file)
        self.book = self._take_up(files)
        return True

    def _might_be_half_saved(self, files: dict[str, bytes]) -> bool:
        now = self._monotonic()
        if self._suspect != files:
            self._suspect, self._suspect_since = files, now
        return now - self._suspect_since < HALF_SAVED_S

    def _take_up(self, files: dict[str, bytes]) -> Book:
        _, rest = self._split(files)
        book = book_of(self.site, rest, self._last_good)
        if self._site_problems:
            book = replace(book, for_all=(*book.for_all, *self._site_problems))
        self._last_good |= book.good_files()
        for name in [name for name in self._last_good if name not in rest]:
            del self._last_good[name]  # removed on purpose: a removed file is not a broken one
        for problem in book.problems:
            log.warning("broken: %s %s", problem.place.exact, problem.what)
        return book

    def _follow_site(self, content: bytes) -> None:
        """Take up new floors.

        A broken site.yaml makes every job wait: the edit may be a tightening.
        """
        try:
            site = site_of(self.site.root, content)
        except BrokenFilesError as error:
            self._site_problems = error.problems
            return
        self._site_problems = ()
        if (
            site.settings.folders != self.site.settings.folders
            or site.settings.gate != self.site.settings.gate
        ):
            log.warning(
                "site.yaml: new folders or a new gate's name are taken up at the next start"
            )
        self.site = replace(self.site, settings=self.site.settings, floors=site.floors)

    def _read(self) -> dict[str, bytes]:
        try:
            content = (self.site.root / SITE_FILE).read_bytes()
        except OSError as error:
            raise UsageError(
                f"{self.site.root / SITE_FILE} cannot be read: {error.strerror}"
            ) from error
        return {SITE_FILE: content, **read_yaml_files(self.site.root, YAML_FOLDERS)}

    @staticmethod
    def _split(files: dict[str, bytes]) -> tuple[bytes, dict[str, bytes]]:
        rest = dict(files)
        return rest.pop(SITE_FILE), rest
