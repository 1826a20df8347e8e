"""Step 3: the claimed sheet is read once, and becomes a case with what its job folder holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.case import Before, Case, JobSheet
from gatekeeper.checks.job import COMPLETE
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing.attempts import LAST, noted_job
from gatekeeper.filing.copying import file_digest
from gatekeeper.filing.desk import Desk, JobName
from gatekeeper.filing.disk import NotPlainFileError, TooLargeError
from gatekeeper.filing.folder import sha256_of
from gatekeeper.filing.names import tidy
from gatekeeper.filing.recovery import StateAlarm
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import RawFile
from gatekeeper.sheet import Problem, Sheet

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.bench import OnBench
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation
    from gatekeeper.verdict import JudgedSheet, Verdict

EXPORT_AGAIN = "export or type the readings again and drop the new file"


@dataclass(frozen=True, slots=True)
class ReadSheet:
    """The bytes that are judged, and what they say; no bytes where the file is brought unread."""

    content: bytes | None
    sha256: str
    sheet: Sheet | None
    problem: Problem | None = None

    @property
    def customer(self) -> str:
        """The customer that the sheet names, empty where it names none."""
        named = [n.customer.value for n in self.sheet.negatives if n.customer] if self.sheet else []
        return named[-1] if named else ""


def read_claimed(
    disk: Disk, desk: Desk, situation: Situation, *, attempt: int, fault: str
) -> ReadSheet:
    """Read the claimed sheet, or say why it is not read.

    Parameters
    ----------
    attempt : number of this start; the third one does not read, since reading ended the program
    fault : what failed inside the program when this sheet was read before, empty when nothing did

    Raises
    ------
    StateAlarm : the claimed name is no plain file any more, or the file is gone
    OSError : the disk is at fault
    """
    path = desk.sheet_in_claim
    removed = disk.lstat(path) is None
    if removed:
        path = _copy_on_bench(disk, desk)
    try:
        if attempt >= LAST:
            return _unread(path, "reading it ended the program twice before")
        content = disk.read(path, situation.declarations.max_bytes)
    except NotPlainFileError as error:
        raise StateAlarm(f"{path} is not a plain file", do="look there and remove it") from error
    except TooLargeError as error:
        return _unread(path, f"the file is too large to be a sheet ({error.strerror})")
    reason = desk.ticket.refusal or fault
    if removed:
        reason = "the original was removed by hand while it was worked on"
    if reason:
        return ReadSheet(content, sha256_of(content), None, Problem(reason, EXPORT_AGAIN))
    sheet, problem = _parsed(desk.ticket.sheet.own_name, content, situation)
    return ReadSheet(content, sha256_of(content), sheet, problem)


def _unread(path: Path, reason: str) -> ReadSheet:
    return ReadSheet(None, file_digest(path), None, Problem(reason, EXPORT_AGAIN))


def _copy_on_bench(disk: Disk, desk: Desk) -> Path:
    """Return the copy in the job folder of an original that is gone, known by its digest."""
    name = noted_job(disk, desk)
    for entry in disk.names(desk.job) if name else []:
        path = desk.job / entry
        if name and not disk.is_folder(path) and file_digest(path) == name.sha256:
            return path
    raise StateAlarm(
        f"the sheet of ticket {desk.ticket.id} is gone",
        where=str(desk.claim),
        do="a .gatekeeper folder was changed by hand; put the sheet back or drop it again",
    )


def _parsed(name: str, content: bytes, situation: Situation) -> tuple[Sheet | None, Problem | None]:
    try:
        return read_sheet(RawFile(name, content), situation.declarations), None
    except UnreadableSheetError as error:
        where = f" ({error.where})" if error.where else ""
        return None, Problem(error.what + where, error.do or EXPORT_AGAIN)


def job_name(desk: Desk, read: ReadSheet, situation: Situation) -> JobName:
    """Return which job the sheet belongs to: as it says, else by its file's or folder's name."""
    negatives = read.sheet.negatives if read.sheet else ()
    jobs = [negative.job.value for negative in negatives if negative.job]
    job = tidy(jobs[0]) if jobs else ""
    workflow = desk.ticket.workflow
    if not workflow:
        named = [negative.workflow.value for negative in negatives if negative.workflow]
        workflow = named[-1] if named and named[-1] in situation.library.workflows else ""
    return JobName(job or tidy(desk.ticket.job_hint) or "unnamed", workflow, read.sha256)


def case_of(
    disk: Disk,
    desk: Desk,
    situation: Situation,
    read: ReadSheet,
    name: JobName,
    *,
    on_bench: OnBench,
    used_for: str,
) -> Case:
    """Return the case: the sheets that the job folder's last verdict counts, and the new one."""
    earlier = on_bench.earlier.verdict if on_bench.earlier else None
    sheets = [
        _reread(disk, desk.job, judged, situation) for judged in (earlier.sheets if earlier else ())
    ]
    new = JobSheet(
        name=on_bench.sheet_name,
        sha256=read.sha256,
        ticket=desk.ticket.id,
        sheet=read.sheet,
        unreadable=read.problem,
        dropped_as=desk.ticket.sheet.own_name,
    )
    return Case(
        ticket=desk.ticket.id,
        job=name.job,
        workflow=name.workflow,
        sheets=(*sheets, new),
        arrived=datetime.fromisoformat(desk.ticket.arrived),
        time_zone=situation.time_zone,
        companions=on_bench.companions,
        was=earlier.decision.value if earlier else "",
        used_for=used_for,
        before=_before(earlier) if earlier else Before(),
    )


def _before(earlier: Verdict) -> Before:
    """Return what the earlier verdict knew of the job, should the new sheet leave it out."""
    wanted = [
        int(finding.limit)
        for finding in earlier.findings
        if finding.rule == COMPLETE and isinstance(finding.limit, int | float)
    ]
    return Before(earlier.customer, wanted[-1] if wanted else 0)


def _reread(disk: Disk, folder: Path, judged: JudgedSheet, situation: Situation) -> JobSheet:
    """Read an earlier sheet again; one that counts no more is only named."""
    base = JobSheet(
        name=judged.name,
        sha256=judged.sha256,
        ticket=judged.ticket,
        sheet=None,
        dropped_as=judged.dropped_as or judged.name,
        replaced=not judged.current,
        separations=judged.separations,
        read_as=judged.read_as,
        used_for=judged.used_for,
    )
    if not judged.current:
        return base
    try:
        content = disk.read(folder / judged.name, situation.declarations.max_bytes)
    except TooLargeError:
        return replace(
            base, unreadable=Problem("the file is too large to be a sheet", EXPORT_AGAIN)
        )
    except (NotPlainFileError, FileNotFoundError):
        removed = Problem("it was removed from the job folder by hand", EXPORT_AGAIN)
        return replace(base, unreadable=removed)
    if sha256_of(content) != judged.sha256:
        changed = Problem("it was changed in the job folder after it was judged", EXPORT_AGAIN)
        return replace(base, unreadable=changed)
    sheet, problem = _parsed(judged.name, content, situation)
    return replace(base, sheet=sheet, unreadable=problem)
