"""The plate room as the gate meets it: rules, register and declarations at one moment."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from gatekeeper.clock import SystemClock
from gatekeeper.errors import UsageError
from gatekeeper.filing.desk import Roots
from gatekeeper.intake.situation import Situation
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.profile import load_profile
from gatekeeper.register.register import REGISTER, Register, read_register
from gatekeeper.rules.files import RULE_FOLDERS, built_in_defaults, read_yaml_files
from gatekeeper.rules.library import Library, UnknownNameError
from gatekeeper.site import LAST_GOOD, read_site, site_of
from gatekeeper.wording import did_you_mean, quoted
from gatekeeper.yamlfiles.load import CannotRead, load
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date
    from pathlib import Path

    from gatekeeper.readers.profile import Profile
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.site import Site
    from gatekeeper.yamlfiles.load import Content

    Files = Mapping[str, Content]

READERS = "readers/"
YAML_FOLDERS = (*RULE_FOLDERS, REGISTER, READERS)

Read = TypeVar("Read")
Problems = tuple[FileProblem, ...]


@dataclass(frozen=True)
class Book:
    """Everything the administrator wrote, read at one moment."""

    library: Library
    register: Register
    profiles: tuple[Profile, ...]
    for_all: Problems  # of site, register and profiles: every job waits for them
    files: Files = field(default_factory=dict)
    overruled: Problems = ()  # likewise, but the last good files are in force in their place
    is_being_edited: bool = False  # other files lie there by now, and are not at rest yet

    @property
    def problems(self) -> Problems:
        """Every problem of every file."""
        return tuple(sorted({*self.library.all_problems, *self.for_all, *self.overruled}))

    def good_files(self) -> dict[str, Content]:
        """Return the files that go together, to fall back on."""
        doubtful = self.library.doubtful | {problem.place.file for problem in self.problems}
        if any(file.startswith(REGISTER) for file in doubtful):
            doubtful |= set(_in(self.files, REGISTER))  # they name each other's entries
        return {name: content for name, content in self.files.items() if name not in doubtful}


def read_book(site: Site, last_good: Files | None = None) -> Book:
    """Read rules, register and profiles of a site.

    Parameters
    ----------
    last_good : files to use in place of broken ones, where the site has chosen so
    """
    return book_of(site, read_yaml_files(site.root, YAML_FOLDERS), last_good)


def check_book(root: Path) -> Book:
    """Return the book of a site's folder, even where site.yaml is broken: then without floors.

    Raises
    ------
    UsageError : the folder is no site
    """
    try:
        return read_book(read_site(root))
    except BrokenFilesError as error:
        bare = site_of(root.absolute(), b"site: unknown")
        files = read_yaml_files(root, YAML_FOLDERS)
        return book_of(bare, files, site_problems=error.problems)


def rules_of(book: Book, workflow: str, customer: str) -> EffectiveRules:
    """Return the rules for a workflow and customer that a person has named.

    Raises
    ------
    UsageError : nobody defines one of them; names the nearest that is known
    BrokenFilesError : a file that governs them is broken
    """
    try:
        return book.library.effective(workflow, customer)
    except UnknownNameError as error:
        what = f"no {error.kind} is called {quoted(error.name)}"
        raise UsageError(what, do=did_you_mean(error.name, error.known)) from error


def today_at(site: Site) -> date:
    """Return the calendar day of the plate room."""
    return SystemClock().now().astimezone(site.time_zone).date()


def book_of(
    site: Site,
    files: Files,
    last_good: Files | None = None,
    site_problems: Problems = (),
    today: date | None = None,
) -> Book:
    """Return the book of these files.

    Parameters
    ----------
    site_problems : of site.yaml as it is now, where `site` is what it said before
    today : the day of which changes with dates are asked; without it the real one
    """
    fallback = last_good if site.settings.on_broken_rules == LAST_GOOD else None
    register = _read(read_register, files, fallback, REGISTER)
    profiles = _read(_profiles, files, fallback, READERS)
    site_file = _Found(None, site_problems, is_older=bool(site_problems) and fallback is not None)
    parts = (register, profiles, site_file)
    always, where_used = built_in_defaults()
    library = Library(
        _in(files, *RULE_FOLDERS),
        always=always,
        where_used=where_used,
        floors=site.floors,
        last_good=None if fallback is None else _in(fallback, *RULE_FOLDERS),
        register=None if register.problems and not register.is_older else register.read,
        notes=tuple(part.note for part in parts if part.is_older),
        today=today or today_at(site),
    )
    return Book(
        library=library,
        register=register.read,
        profiles=profiles.read,
        for_all=tuple(entry for part in parts if not part.is_older for entry in part.problems),
        files=files,
        overruled=tuple(entry for part in parts if part.is_older for entry in part.problems),
    )


@dataclass(frozen=True)
class _Found(Generic[Read]):
    """What a kind of files says, and what is wrong with them as they are now."""

    read: Read
    problems: Problems
    is_older: bool = False  # `read` is what they said when they were good

    @property
    def note(self) -> str:
        """What the report of every job says while an older text is in force."""
        first = self.problems[0].place
        return f"the last good {first.file} is in force, because {first} is broken"


def _read(
    reader: Callable[[Files], tuple[Read, Problems]],
    files: Files,
    fallback: Files | None,
    folder: str,
) -> _Found[Read]:
    read, problems = reader(_in(files, folder))
    were_good = fallback is not None and all(entry.place.file in fallback for entry in problems)
    if problems and fallback is not None and were_good:
        older, still = reader(_in(fallback, folder))
        if not still:
            return _Found(older, problems, is_older=True)
    return _Found(read, problems)


def _profiles(files: Files) -> tuple[tuple[Profile, ...], Problems]:
    profiles: list[Profile] = []
    problems: list[FileProblem] = []
    for name in sorted(files):
        content = files[name]
        try:
            if isinstance(content, CannotRead):
                load(content, name)  # says so
            else:
                profiles.append(load_profile(content, name))
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
        leads=frozenset(site.settings.leads),
        no_concession=frozenset(site.settings.no_concession),
        for_all=book.for_all,
        is_being_edited=book.is_being_edited,
        litter=site.litter,
    )


def declared_by(site: Site) -> Declarations:
    """Return what readers need to know of a site whose rules nobody asks for."""
    profiles, _ = _profiles(read_yaml_files(site.root, [READERS]))
    return declarations_of(site, profiles)


def _in(files: Files, *folders: str) -> dict[str, Content]:
    return {name: content for name, content in files.items() if name.startswith(folders)}


def roots_of(site: Site) -> Roots:
    """Return the folders between which jobs move."""
    return Roots(site.drop, site.approved, site.held, site.gate, site.mark)


def declarations_of(site: Site, profiles: tuple[Profile, ...]) -> Declarations:
    """Return what readers need to know of the site."""
    return Declarations(
        time_zone=site.time_zone,
        date_formats=site.settings.date_formats,
        code_page=site.settings.code_page,
        profiles=profiles,
        max_bytes=site.settings.max_sheet_bytes,
    )
