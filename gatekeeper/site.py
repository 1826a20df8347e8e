"""site.yaml → `Site`: where the folders are and what the room has decided. A site is a folder."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import combinations
from os.path import normpath
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, Field

from gatekeeper.errors import UsageError
from gatekeeper.history_settings import HistoryField, is_on_server
from gatekeeper.logs.settings import LogBlock
from gatekeeper.mail.settings import MailBlock  # noqa: TC001 -- pydantic looks it up
from gatekeeper.rules.compile import check_floors
from gatekeeper.rules.models import DatedLimits  # noqa: TC001 -- pydantic looks it up
from gatekeeper.telling.settings import TellBlock  # noqa: TC001 -- pydantic looks it up
from gatekeeper.upkeep_settings import UpkeepBlock
from gatekeeper.wording import nearest, quoted
from gatekeeper.yamlfiles.declared import (  # noqa: TC001 -- pydantic looks them up
    CodePageField,
    DateFormatsField,
)
from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    NumberField,
    WordField,
    WordsField,
    one_of,
    refuse,
)
from gatekeeper.yamlfiles.load import Content, parse
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

SITE_FILE = "site.yaml"
WAIT, LAST_GOOD = "wait", "last_good"
MARK = ".gatekeeper/site-id"
_LONGEST_MARK = 200
USUAL_SITE = Path("/etc/gatekeeper")
SITE_VARIABLE = "GATEKEEPER_SITE"

LITTER = (
    ".*",  # hidden: editors, rsync's partial files, .DS_Store
    "~$*",  # lock file of an office program
    "*.part",
    "*.partial",
    "*.tmp",
    "*.temp",
    "*.crdownload",
    "*.filepart",
    "*.swp",
    "*.bak",
    "*~",
    "#*#",
    "lu[0-9]*.tmp",
    "Thumbs.db",
    "desktop.ini",
    "@eaDir",
    "System Volume Information",
    "lost+found",
)
"""Names that are never sheets; whose litter it is stands beside where it is not plain."""


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        what = f"there is no time zone {quoted(name)}"
        near = nearest(name, available_timezones())
        do = f"write {near}" if near else "write one such as Europe/Berlin or UTC"
        raise refuse("unknown-zone", what, do) from error
    return name


def _gate_name(name: str) -> str:
    if re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,40}", name):
        return name
    what = f"the gate's name {quoted(name)} cannot be a folder's name"
    raise refuse("not-a-folder-name", what, "use letters, digits, - and _")


class FoldersBlock(Block):
    """Where things lie; relative to the site's folder, or absolute."""

    drop: WordField = Field(default="drop", description="sheets arrive in drop/<workflow>/")
    approved: WordField = Field(default="approved", description="approved jobs")
    held: WordField = Field(default="held", description="held jobs")
    state: WordField = Field(
        default="state", description="the history and the daemon's own notes; never on a share"
    )
    archive: WordField = Field(default="archive", description="approved jobs of earlier months")


class SiteFile(Block):
    """site.yaml."""

    site: WordField = Field(description="name of the plate room, as screens show it")
    gate: Annotated[WordField, AfterValidator(_gate_name)] = Field(
        default="gate-1",
        description="name of this gate, one for each machine that works on these folders",
    )
    time_zone: Annotated[WordField, AfterValidator(_zone)] = Field(
        default="UTC", description="time zone of dates on sheets and of the schedule"
    )
    date_formats: DateFormatsField = Field(
        default=(), description="patterns of dates that are accepted besides year-month-day"
    )
    code_page: CodePageField = Field(
        default="windows-1252", description="encoding of text that is neither UTF-8 nor UTF-16"
    )
    settle_s: NumberField = Field(
        default=2.0, ge=0, le=3600, description="rest before a file is taken (s)"
    )
    unended_settle_s: NumberField = Field(
        default=10.0,
        ge=0,
        le=3600,
        description="rest before a sheet is taken whose last line has no end (s)",
    )
    rescan_s: NumberField = Field(
        default=15.0, gt=0, le=86400, description="time between two full scans (s)"
    )
    max_sheet_bytes: CountField = Field(
        default=4_000_000, gt=0, description="largest sheet read (bytes)"
    )
    on_broken_rules: Annotated[str, one_of(WAIT, LAST_GOOD)] = Field(
        default=WAIT, description="what jobs do while a file that governs them is broken"
    )
    history: HistoryField | None = Field(
        default=None, description="address of the history database; without it a file in state/"
    )
    history_password_file: WordField | None = Field(
        default=None, description="file with the password of the history's account on a server"
    )
    page_rooms: WordsField = Field(
        default=(),
        description="rooms of a shared history on state/page/rooms.html and in the digest, "
        "without it all",
    )
    litter: WordsField = Field(default=(), description="further name patterns that are left alone")
    leads: WordsField = Field(
        default=(), description="users of this machine whose release and recall slips count"
    )
    no_concession: WordsField = Field(
        default=(), description="rules, or whole sections, that no slip can release"
    )
    folders: FoldersBlock = Field(default_factory=FoldersBlock, description="where things lie")
    log: LogBlock = Field(default_factory=LogBlock, description="a file for the log")
    upkeep: UpkeepBlock = Field(
        default_factory=UpkeepBlock, description="what is done by itself, once a day"
    )
    mail: MailBlock | None = Field(default=None, description="how the digest leaves the room")
    tell: TellBlock | None = Field(
        default=None, description="other software that is told of each verdict"
    )
    floors: DatedLimits | None = Field(default=None, description="limits that no layer may loosen")


@dataclass(frozen=True)
class Site:
    """One plate room: its folders and what it has decided."""

    root: Path
    settings: SiteFile
    mark: str = ""  # what its folders are marked with: it stays when the room gets another name
    floors: Table | None = None
    litter: tuple[str, ...] = field(default=LITTER)

    @property
    def name(self) -> str:
        """The plate room's name."""
        return self.settings.site

    @property
    def gate(self) -> str:
        """Name of the gate that this machine is."""
        return self.settings.gate

    @property
    def time_zone(self) -> ZoneInfo:
        """The zone in which dates on sheets are meant."""
        return ZoneInfo(self.settings.time_zone)

    @property
    def drop(self) -> Path:
        """Where files arrive."""
        return self.root / self.settings.folders.drop

    @property
    def approved(self) -> Path:
        """Where approved jobs stand."""
        return self.root / self.settings.folders.approved

    @property
    def held(self) -> Path:
        """Where held jobs stand."""
        return self.root / self.settings.folders.held

    @property
    def state(self) -> Path:
        """Where the history and the daemon's own notes lie."""
        return self.root / self.settings.folders.state

    @property
    def archive(self) -> Path:
        """Where old approved jobs go."""
        return self.root / self.settings.folders.archive


def read_site(root: Path) -> Site:
    """Return the site of a folder.

    Raises
    ------
    UsageError : the folder holds no site.yaml, or it cannot be read
    BrokenFilesError : site.yaml is wrong
    """
    path = root / SITE_FILE
    try:
        content = path.read_bytes()
    except OSError as error:
        raise UsageError(
            f"{path} cannot be read: {error.strerror}",
            do="name the site's folder with --site, or lay out one with `gatekeeper init DIR`",
        ) from error
    return replace(site_of(root.absolute(), content), mark=_mark_of(root))


def _mark_of(root: Path) -> str:
    """Return the site's own mark, empty before `init` has been there."""
    try:
        return (root / MARK).read_text(encoding="utf-8").strip()[:_LONGEST_MARK]
    except (OSError, UnicodeDecodeError):
        return ""


def site_of(root: Path, content: Content) -> Site:
    """Return the site that these bytes of site.yaml describe."""
    table, problems = parse(content, SITE_FILE)
    settings, found = validate(SiteFile, table)
    problems += found
    floors = table.entries.get("floors")
    floors = floors if isinstance(floors, Table) else None
    if settings is not None:
        problems += check_floors(floors) if floors else ()
        problems += _overlapping(settings.folders, table)
        problems += _unshared(settings, table)
    if settings is None or problems:
        raise BrokenFilesError(problems)
    return Site(root, settings, floors=floors, litter=LITTER + settings.litter)


def _overlapping(folders: FoldersBlock, table: Table) -> Iterator[FileProblem]:
    """Yield folders that are the same, or lie inside one another: a job would be in both."""
    block = table.entries.get("folders")
    places = block.key_places if isinstance(block, Table) else {}
    named = {name: PurePath(normpath(path)) for name, path in folders}
    for (name, path), (other, other_path) in combinations(named.items(), 2):
        if path.is_relative_to(other_path) or other_path.is_relative_to(path):
            place = max(place for key in (name, other) if (place := places.get(key)))
            what = f"the folders {name} and {other} lie inside one another"
            yield FileProblem(place, "folders-overlap", what, "give each a folder of its own")


def _unshared(settings: SiteFile, table: Table) -> Iterator[FileProblem]:
    """Yield rooms that are named although nobody else writes into this room's history."""
    if settings.page_rooms and not is_on_server(settings.history):
        what = "page_rooms names rooms, but the history is a file of this room alone"
        do = "give the address of the history that they share, or delete the key"
        yield FileProblem(table.key_places["page_rooms"], "no-shared-history", what, do)


def find_site(stated: str | None, environment: Mapping[str, str], here: Path) -> Path:
    """Return the site's folder: as stated, else by the environment, else here, else the usual one.

    Raises
    ------
    UsageError : none of them is a site
    """
    if stated:
        return Path(stated)
    if environment.get(SITE_VARIABLE):
        return Path(environment[SITE_VARIABLE])
    for folder in (here, USUAL_SITE):
        if (folder / SITE_FILE).is_file():
            return folder
    raise UsageError(
        "no site was named",
        where=f"neither here nor in {USUAL_SITE} is a {SITE_FILE}",
        do=f"add --site DIR, set {SITE_VARIABLE}, or lay out a new site with `gatekeeper init DIR`",
    )
