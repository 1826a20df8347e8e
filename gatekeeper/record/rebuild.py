"""The history made again from the job folders, which are the record.

Every verdict that a job ever had still lies in its folder: `verdict.json` and the earlier ones,
`verdict.N.json`. What only the database knew is lost, and said: when each job was filed (the moment
of its verdict file stands in), events other than verdicts, folders that somebody removed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from gatekeeper.errors import RoomError
from gatekeeper.filing.folder import VERDICT, read_record, verdict_numbers
from gatekeeper.history import FiledSheet, FiledVerdict
from gatekeeper.record.sheets_told import read_again, readings_of, told_sheets
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from gatekeeper.filing.disk import Disk
    from gatekeeper.history.record import History
    from gatekeeper.readers.interface import Declarations
    from gatekeeper.site import Site
    from gatekeeper.verdict import Verdict

AT_ONCE = 50
"""Verdicts in one transaction."""


@dataclass(frozen=True, slots=True)
class Found:
    """One verdict file in a job folder."""

    ticket: str
    folder: Path
    name: str


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of it."""

    verdicts: int
    unreadable: tuple[str, ...]  # verdict files that are cut or damaged


def rebuild(
    site: Site,
    disk: Disk,
    history: History,
    declarations: Declarations,
    told: Callable[[int, int], None] = lambda _done, _total: None,
) -> Rebuilt:
    """Tell the history every verdict of every job folder, in the order of their tickets.

    A verdict that it knows already changes nothing, so this also fills gaps.

    Parameters
    ----------
    told : called now and then with how many verdicts were told, and of how many
    """
    unreadable: list[str] = []
    found = sorted(_find(site, disk, unreadable), key=lambda entry: entry.ticket)
    for start in range(0, len(found), AT_ONCE):
        history.remember_many(
            _filed(site, disk, entry, declarations) for entry in found[start : start + AT_ONCE]
        )
        told(min(start + AT_ONCE, len(found)), len(found))
    return Rebuilt(len(found), tuple(unreadable))


def _find(site: Site, disk: Disk, unreadable: list[str]) -> Iterator[Found]:
    for folder in job_folders(site, disk):
        names = [f"verdict.{number}.json" for number in verdict_numbers(disk, folder)]
        for name in [*names, VERDICT]:
            if disk.lstat(folder / name) is None:
                continue
            record = read_record(disk, folder / name)
            if record is None:
                unreadable.append(str(folder / name))
            else:
                yield Found(record.verdict.ticket, folder, name)


def job_folders(site: Site, disk: Disk) -> Iterator[Path]:
    """Yield every job folder: approved, held and archived."""
    for root in (site.approved, site.held):
        for shelf in _inner(disk, root):
            yield from _inner(disk, shelf)
    for year in _inner(disk, site.archive):
        for month in _inner(disk, year):
            for shelf in _inner(disk, month):
                yield from _inner(disk, shelf)


def _inner(disk: Disk, folder: Path) -> list[Path]:
    names = [name for name in disk.names(folder) if not name.startswith(".")]
    return [folder / name for name in names if disk.is_folder(folder / name)]


def _filed(site: Site, disk: Disk, found: Found, declarations: Declarations) -> FiledVerdict:
    record = read_record(disk, found.folder / found.name)
    if record is None:
        raise RoomError(f"{found.folder / found.name} could be read a moment ago")
    verdict = record.verdict
    return FiledVerdict(
        site=site.mark,
        verdict=verdict,
        folder=_folder_then(site, found, verdict),
        filed_at=_written_at(disk, found),
        sheets=tuple(
            FiledSheet(judged.name, sheet, readings_of(sheet))
            for judged in told_sheets(verdict)
            if (sheet := read_again(disk, found.folder / judged.name, judged.sha256, declarations))
        ),
    )


def _folder_then(site: Site, found: Found, verdict: Verdict) -> str:
    """Return where the job stood with this verdict, relative to the site where it lies inside."""
    folder = found.folder
    if found.name != VERDICT:  # it has moved on since; location follows verdict
        root = site.approved if verdict.decision is Decision.APPROVED else site.held
        folder = root.joinpath(*folder.parts[-2:])
    inside = folder.is_relative_to(site.root)
    return str(folder.relative_to(site.root)) if inside else str(folder)


def _written_at(disk: Disk, found: Found) -> datetime:
    entry = disk.lstat(found.folder / found.name)
    return datetime.fromtimestamp(entry.st_mtime if entry else 0, UTC)
