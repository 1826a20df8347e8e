"""The plate room as the gate meets it: rules, register and declarations at one moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.filing.desk import Roots
from gatekeeper.intake.situation import Situation
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.profile import load_profile
from gatekeeper.register.register import REGISTER, Register, read_register
from gatekeeper.rules.files import RULE_FOLDERS, built_in_defaults, read_yaml_files
from gatekeeper.rules.library import Library
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.readers.profile import Profile
    from gatekeeper.site import Site

READERS = "readers/"
YAML_FOLDERS = (*RULE_FOLDERS, REGISTER, READERS)


@dataclass(frozen=True)
class Book:
    """Everything the administrator wrote, read at one moment."""

    library: Library
    register: Register
    profiles: tuple[Profile, ...]
    for_all: tuple[FileProblem, ...]  # of register and profiles: every job waits for them
    files: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def problems(self) -> tuple[FileProblem, ...]:
        """Every problem of every file."""
        return tuple(sorted({*self.library.all_problems, *self.for_all}))

    def good_files(self) -> dict[str, bytes]:
        """Return the files without a problem, to fall back on."""
        broken = {problem.place.file for problem in self.problems}
        return {name: content for name, content in self.files.items() if name not in broken}


def read_book(site: Site, last_good: Mapping[str, bytes] | None = None) -> Book:
    """Read rules, register and profiles of a site.

    Parameters
    ----------
    last_good : files to use in place of broken ones, where the site has chosen so
    """
    return book_of(site, read_yaml_files(site.root, YAML_FOLDERS), last_good)


def book_of(
    site: Site, files: Mapping[str, bytes], last_good: Mapping[str, bytes] | None = None
) -> Book:
    """Return the book of these files."""
    fallback = last_good if site.settings.on_broken_rules == "last_good" else None
    always, where_used = built_in_defaults()
    library = Library(
        _in(files, RULE_FOLDERS),
        always=always,
        where_used=where_used,
        floors=site.floors,
        last_good=_in(fallback or {}, RULE_FOLDERS),
    )
    register, register_problems = read_register(_in(files, (REGISTER,)))
    profiles, profile_problems = _profiles(_in(files, (READERS,)))
    return Book(library, register, profiles, (*register_problems, *profile_problems), files)


def _profiles(
    files: Mapping[str, bytes],
) -> tuple[tuple[Profile, ...], tuple[FileProblem, ...]]:
    profiles: list[Profile] = []
    problems: list[FileProblem] = []
    for name in sorted(files):
        try:
            profiles.append(load_profile(files[name], name))
        except BrokenFilesError as error:
            problems += error.problems
    return tuple(profiles), tuple(problems)


def situation_of(site: Site, book: Book) -> Situation:
    """Return what the gate needs to know to judge."""
    return Situation(
        library=book.library,
        register=book.register,
        declarations=declarations_of(site, book.profiles),
        time_zone=site.time_zone,
        for_all=book.for_all,
    )


def _in(files: Mapping[str, bytes], folders: tuple[str, ...]) -> dict[str, bytes]:
    return {name: content for name, content in files.items() if name.startswith(folders)}


def roots_of(site: Site) -> Roots:
    """Return the folders between which jobs move."""
    return Roots(site.drop, site.approved, site.held, site.gate)


def declarations_of(site: Site, profiles: tuple[Profile, ...]) -> Declarations:
    """Return what readers need to know of the site."""
    return Declarations(
        time_zone=site.time_zone,
        date_formats=site.settings.date_formats,
        code_page=site.settings.code_page,
        profiles=profiles,
        max_bytes=site.settings.max_sheet_bytes,
    )
