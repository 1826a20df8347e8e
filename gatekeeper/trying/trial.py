"""The pure part of the gate alone: files are judged where they are; nothing moves."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper.case import Case, JobSheet, JobTicket
from gatekeeper.clock import SystemClock
from gatekeeper.control.room_sheets import is_about_the_room, place_of
from gatekeeper.control.room_verdict import judge_room_sheet
from gatekeeper.errors import UnreadableSheetError, UsageError
from gatekeeper.filing.disk import Disk, NotPlainFileError, TooLargeError
from gatekeeper.filing.folder import sha256_of
from gatekeeper.filing.names import tidy
from gatekeeper.intake.job_tickets import read_ticket_file
from gatekeeper.intake.scan import stem_of
from gatekeeper.judge import Judgement, judge
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.room import read_book, situation_of
from gatekeeper.rules.job_ticket import is_ticket
from gatekeeper.sheet import Problem
from gatekeeper.workshop import lookup_of, signal_watch
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from gatekeeper.intake.situation import Situation
    from gatekeeper.site import Site


def try_files(site: Site, files: Sequence[Path], workflow: str) -> list[Judgement]:
    """Return a judgement for each job that the files name, in the order given.

    Raises
    ------
    UsageError : a file is not there, or not a plain file
    BrokenFilesError : a rule file that governs one of the jobs is broken
    """
    clock = SystemClock()
    with lookup_of(site, clock) as history:
        charts = signal_watch(site, history, clock, Disk())
        situation = replace(situation_of(site, read_book(site)), charts=charts)
        if situation.for_all:
            raise BrokenFilesError(situation.for_all)
        return _try_all(site, files, workflow, situation, clock.now())


def _try_all(
    site: Site, files: Sequence[Path], workflow: str, situation: Situation, arrived: datetime
) -> list[Judgement]:
    jobs: dict[tuple[str, str], list[JobSheet]] = {}
    tickets: dict[tuple[str, str], dict[Path, JobTicket]] = {}
    for path in _without_tickets(files):
        sheet = _read(path, situation)
        dropped_in = workflow or _folder_workflow(site, path, sheet)
        job = _job(sheet, path)
        if sheet.sheet and is_about_the_room(sheet.sheet):
            job, _ = place_of(
                sheet.sheet, dropped_in=dropped_in, arrived=arrived, zone=site.time_zone
            )
        jobs.setdefault((job, dropped_in), []).append(sheet)
        tickets.setdefault((job, dropped_in), {}).update(_tickets_beside(path))
    return [
        _judge(
            Case(
                "check",
                job,
                found,
                tuple(sheets),
                arrived,
                site.time_zone,
                tickets=tuple(tickets[job, found].values()),
                dropped_in=found,
            ),
            situation,
        )
        for (job, found), sheets in jobs.items()
    ]


def _without_tickets(files: Sequence[Path]) -> list[Path]:
    """Return the sheets; a job ticket is found beside its own, so it may be named with it."""
    sheets = [path for path in files if not is_ticket(path.name)]
    stems = {path.absolute().parent / stem_of(path.name) for path in sheets}
    return [
        path
        for path in files
        if path in sheets or path.absolute().parent / stem_of(path.name) not in stems
    ]


def _tickets_beside(sheet: Path) -> dict[Path, JobTicket]:
    """Return the job tickets that lie beside a sheet and would be dropped with it."""
    try:
        beside = sorted(sheet.absolute().parent.iterdir())
    except OSError as error:
        raise UsageError(f"{sheet.parent} cannot be looked into: {error.strerror}") from error
    found: dict[Path, JobTicket] = {}
    for path in beside:
        name = os.fsdecode(path.name)
        is_of_sheet = path.name != sheet.name and stem_of(name) == stem_of(sheet.name)
        if is_of_sheet and is_ticket(name):
            content, sha256 = read_ticket_file(Disk(), path.parent, name)
            found[path] = JobTicket(name, content, sha256, dropped_as=name)
    return found


def _judge(case: Case, situation: Situation) -> Judgement:
    newest = case.newest.sheet
    if newest and is_about_the_room(newest):
        return judge_room_sheet(case, newest, situation.library, situation.register)
    return judge(situation.with_signals(case), situation.library, situation.register)


def read_files(site: Site, files: Sequence[Path]) -> list[JobSheet]:
    """Return the files as they are read, in the order given."""
    situation = situation_of(site, read_book(site))
    return [_read(path, situation) for path in _without_tickets(files)]


def _read(path: Path, situation: Situation) -> JobSheet:
    name = os.fsdecode(path.name)
    try:
        content = Disk().read(path, situation.declarations.max_bytes)
    except TooLargeError as error:
        return _sheet(
            name, b"", Problem(f"the file is too large to be a sheet ({error.strerror})", "")
        )
    except NotPlainFileError as error:
        raise UsageError(f"{path} is not a plain file") from error
    except OSError as error:
        raise UsageError(f"{path} cannot be read: {error.strerror}") from error
    try:
        sheet = read_sheet(RawFile(name, content), situation.declarations)
    except UnreadableSheetError as error:
        return _sheet(name, content, Problem(error.what, error.do))
    return JobSheet(name, sha256_of(content), "check", sheet)


def _sheet(name: str, content: bytes, problem: Problem) -> JobSheet:
    return JobSheet(name, sha256_of(content), "check", None, problem)


def _job(sheet: JobSheet, path: Path) -> str:
    named = [n.job.value for n in sheet.sheet.negatives if n.job] if sheet.sheet else []
    return tidy(named[0]) if named else tidy(stem_of(path.name)) or "unnamed"


def _folder_workflow(site: Site, path: Path, sheet: JobSheet) -> str:
    """Return the workflow of the drop folder in which the file lies; elsewhere the sheet says."""
    folder = path.absolute().parent
    if folder.parent == site.drop.absolute():
        return folder.name
    named = [n.workflow.value for n in sheet.sheet.negatives if n.workflow] if sheet.sheet else []
    return named[-1] if named else ""
