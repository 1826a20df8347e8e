"""Step 6, gathering: the new sheet, and those that the job folder's last verdict counts."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.case import Before, Case, JobSheet
from gatekeeper.checks.job import COMPLETE
from gatekeeper.filing.disk import NotPlainFileError, TooLargeError
from gatekeeper.filing.folder import digest_in, sha256_of
from gatekeeper.intake.job_tickets import job_tickets
from gatekeeper.intake.reading import EXPORT_AGAIN, ReadSheet, parsed
from gatekeeper.intake.scan import stem_of
from gatekeeper.readers.choose import HEAD_BYTES, looks_like_sheet
from gatekeeper.sheet import Negative, Problem, Sheet, SheetKind, Text
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.laying import OnBench
    from gatekeeper.intake.situation import Situation
    from gatekeeper.verdict import JudgedSheet, Verdict

UNKNOWN_USE = "whether these readings were used for another job is not known: the history is away"
DOUBTFUL = Problem(
    "the job's last verdict is missing or damaged: which of its sheets count is not clear",
    "drop the newest sheet of each separation again",
)
NOT_READ_BEFORE = Problem("it could not be used at an earlier verdict", EXPORT_AGAIN)
REMOVED = Problem("it was removed from the job folder by hand", EXPORT_AGAIN)
CHANGED = Problem("it was changed in the job folder after it was judged", EXPORT_AGAIN)
TOO_LARGE = Problem("the file is too large to be a sheet", EXPORT_AGAIN)


def case_of(
    disk: Disk,
    desk: Desk,
    situation: Situation,
    read: ReadSheet,
    name: JobName,
    *,
    on_bench: OnBench,
    used_for: str | None,
) -> Case:
    """Return the case that is to be judged.

    Parameters
    ----------
    used_for : another job that was judged by the same bytes, empty for none, None for not known
    """
    earlier = on_bench.earlier.verdict if on_bench.earlier else None
    sheets = [
        _reread(disk, desk.job, judged, situation) for judged in (earlier.sheets if earlier else ())
    ]
    lost = [] if on_bench.has_verdict else _lost_sheets(disk, desk, on_bench, situation)
    sheets += lost
    is_doubtful = on_bench.is_damaged or bool(lost)
    named = {sheet.name for sheet in lost}
    new = _new_sheet(disk, desk, read, on_bench.sheet_name, is_doubtful=is_doubtful)
    others = tuple(other for other in on_bench.others if other not in named)
    stems = {stem_of(sheet.own_name) for sheet in (*sheets, new)}
    judged = earlier.job_tickets if earlier else ()
    case = Case(
        ticket=desk.ticket.id,
        job=name.job,
        workflow=name.workflow,
        sheets=tuple(sorted((*sheets, new), key=lambda entry: entry.ticket)),
        arrived=datetime.fromisoformat(desk.ticket.arrived),
        time_zone=situation.time_zone,
        companions=others,
        tickets=job_tickets(disk, desk, others, judged, stems),
        was=earlier.decision.value if earlier else "",
        used_for=used_for or "",
        notes=(UNKNOWN_USE,) if used_for is None else (),
        before=_before(earlier) if earlier else Before(),
        dropped_in=desk.ticket.workflow,
    )
    return situation.with_signals(case)


def _new_sheet(
    disk: Disk, desk: Desk, read: ReadSheet, name: str, *, is_doubtful: bool
) -> JobSheet:
    """Return the sheet that arrived; in a doubtful folder it does not count, and the job is held.

    The verdict that is then written names every sheet in the folder, and the next one counts again.
    """
    sha256 = read.sha256
    if not sha256 and disk.lstat(desk.sheet_in_claim) is None:
        sha256 = digest_in(desk.job, name) or ""  # removed by hand, but laid in before
    return JobSheet(
        name=name,
        sha256=sha256,
        ticket=desk.ticket.sheet_id,
        sheet=None if is_doubtful else read.sheet,
        unreadable=DOUBTFUL if is_doubtful and read.sheet else read.problem,
        dropped_as=desk.ticket.sheet.own_name,
    )


def _before(earlier: Verdict) -> Before:
    """Return what the earlier verdict knew of the job, should the new sheet leave it out."""
    wanted = [
        int(finding.limit)
        for finding in earlier.findings
        if finding.rule == COMPLETE and isinstance(finding.limit, int | float)
    ]
    return Before(earlier.customer, wanted[-1] if wanted else 0)


def _lost_sheets(disk: Disk, desk: Desk, on_bench: OnBench, situation: Situation) -> list[JobSheet]:
    """Return the sheets in the folder that a lost verdict named, in the order they were laid in."""
    found: list[tuple[int, JobSheet]] = []
    for name in on_bench.others:
        path = desk.job / name
        entry = disk.lstat(path)
        if entry is None or not disk.is_plain(path):
            continue
        if looks_like_sheet(name, disk.head(path, HEAD_BYTES), situation.declarations):
            found.append((entry.st_mtime_ns, _lost_sheet(disk, desk, name, situation)))
    return [lost for _, lost in sorted(found, key=lambda entry: entry[0])]


def _lost_sheet(disk: Disk, desk: Desk, name: str, situation: Situation) -> JobSheet:
    path = desk.job / name
    try:
        content = disk.read(path, situation.declarations.max_bytes)
    except TooLargeError:
        digest = digest_in(desk.job, name) or ""
        return JobSheet(name, digest, desk.ticket.sheet_id, None, TOO_LARGE, dropped_as=name)
    sheet, problem = parsed(name, content, situation)
    ticket = desk.ticket.sheet_id  # of equal ones, the new sheet is sorted last
    return JobSheet(name, sha256_of(content), ticket, sheet, problem, dropped_as=name)


def _reread(disk: Disk, folder: Path, judged: JudgedSheet, situation: Situation) -> JobSheet:
    """Read an earlier sheet again, as it lies there now; one that counts no more is only named."""
    base = JobSheet(
        name=judged.name,
        sha256=(digest_in(folder, judged.name) or "") if judged.sha256 else "",
        ticket=judged.ticket,
        sheet=None,
        dropped_as=judged.dropped_as or judged.name,
        replaced=not judged.current,
        separations=judged.separations,
        read_as=judged.read_as,
        used_for=judged.used_for,
    )
    if not judged.current:
        return replace(base, before=_before_it(disk, folder, judged, base.sha256, situation))
    if not judged.read_as:  # what could not be read once may be what brought the program down
        return _known_by_name(base, NOT_READ_BEFORE)
    if base.sha256 != judged.sha256:
        return _known_by_name(base, CHANGED if base.sha256 else REMOVED)
    try:
        content = disk.read(folder / judged.name, situation.declarations.max_bytes)
    except (TooLargeError, NotPlainFileError):
        return _known_by_name(base, TOO_LARGE)
    sheet, problem = parsed(judged.name, content, situation)
    return _known_by_name(base, problem) if problem else replace(base, sheet=sheet)


def _before_it(
    disk: Disk, folder: Path, judged: JudgedSheet, sha256: str, situation: Situation
) -> Sheet | None:
    """Return what a replaced sheet held, None where nobody can say it any more."""
    if not judged.read_as or sha256 != judged.sha256:
        return None
    try:
        content = disk.read(folder / judged.name, situation.declarations.max_bytes)
    except (TooLargeError, NotPlainFileError):
        return None
    return parsed(judged.name, content, situation)[0]


def _known_by_name(base: JobSheet, problem: Problem) -> JobSheet:
    """Return an earlier sheet of which only the separations are known any more.

    Each of them stands in the way until it is measured anew: a newer sheet of another separation
    must not let the job pass without it. It is written down as not read, so that what a hand has
    changed is not taken for what was judged the next time.
    """
    if not base.separations:
        return replace(base, unreadable=problem)
    says = f"{plain(base.name)}: {problem.says}"
    negatives = tuple(
        Negative(separation=Text(name) if name else None) for name in base.separations
    )
    return replace(base, sheet=Sheet(SheetKind.NEGATIVE, negatives, (replace(problem, says=says),)))
