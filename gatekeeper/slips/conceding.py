"""A slip on its way through the gate: it decides a job that was judged before, or is refused.

Refused slips are filed as held under their own name on the shelf of the concessions: nothing that
was dropped vanishes, and every refusal has its report.
"""

from __future__ import annotations

import os
import pwd
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.case import READ_AS_SLIP
from gatekeeper.checks.advice import CALL_LEAD, NEW_SLIP, NO_PLATE
from gatekeeper.errors import UnreadableSheetError
from gatekeeper.filing import trouble
from gatekeeper.filing.attempts import noted_job
from gatekeeper.filing.bench import last_verdict
from gatekeeper.filing.desk import JobName
from gatekeeper.filing.disk import NotPlainFileError, TooLargeError
from gatekeeper.filing.folder import MAX_VERDICT_BYTES, VERDICT, sha256_of, valid_record
from gatekeeper.filing.names import shelf_name, tidy
from gatekeeper.filing.spelling import known_folder
from gatekeeper.judge import PROGRAM
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.slips.slip import MOST_BYTES, Slip, SlipKind, slip_of
from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome, Verdict, concede
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.desk import Desk
    from gatekeeper.filing.disk import Disk
    from gatekeeper.filing.laying import OnBench
    from gatekeeper.intake.situation import Situation

SLIP = "slip"
"""Kind of ticket."""

RELEASED = "job.released"
RECALLED = "job.recalled"
REFUSED = "slip.refused"
_OF_SLIPS = frozenset({RELEASED, RECALLED, REFUSED})

CHANGED = "the job has changed since the slip was written: read its report again"


@dataclass(frozen=True, slots=True)
class ReadSlip:
    """A claimed slip: what it asks and who put it there, or why it is refused."""

    content: bytes | None
    sha256: str
    slip: Slip | None
    uid: int | None  # None where the file is gone
    refusal: str = ""

    @property
    def owner(self) -> str:
        """Whose file it is."""
        return "" if self.uid is None else owner_name(self.uid)


def read_slip(disk: Disk, desk: Desk) -> ReadSlip:
    """Read a claimed slip; whether it counts is for `weigh` to say.

    Raises
    ------
    StateAlarm : the claimed name is no plain file
    OSError : the disk or the share is at fault
    """
    path = desk.sheet_in_claim
    found = disk.lstat(path)
    if found is None:
        return ReadSlip(None, "", None, None, "it was removed by hand while it was worked on")
    try:
        content = disk.read(path, MOST_BYTES)
    except NotPlainFileError as error:
        raise trouble.not_a_plain_file(path) from error
    except TooLargeError:
        return ReadSlip(None, "", None, found.st_uid, "it is too large to be a slip")
    digest = sha256_of(content)
    try:
        return ReadSlip(content, digest, slip_of(content), found.st_uid)
    except UnreadableSheetError as error:
        return ReadSlip(content, digest, None, found.st_uid, error.what)


def weigh(disk: Disk, desk: Desk, read: ReadSlip, situation: Situation) -> ReadSlip:
    """Return the slip with the reason why it is refused, if it is.

    To be asked when no earlier ticket has the job any more, and before it is noted: a refused slip
    goes to a place of its own. One that was taken up stays so whatever was edited since, for its
    job may be on the bench already; only that it is still the job that was read is asked again.
    """
    if read.slip is None or read.uid is None:
        return read
    noted = noted_job(disk, desk)
    if noted and noted.workflow != CONCESSIONS:
        last = last_verdict(disk, desk, noted)
        is_same = last is not None and _digest(disk, last) == read.slip.verdict
        return replace(read, refusal="" if is_same else CHANGED)
    refusal = _not_a_lead(read.uid, situation) or _not_this_job(disk, desk, read.slip, situation)
    return replace(read, refusal=refusal)


def owner_name(uid: int) -> str:
    """Return the name of a user, or the number where the system knows none."""
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return str(uid)


def _not_a_lead(uid: int, situation: Situation) -> str:
    owner = owner_name(uid)
    if not situation.leads:
        return "site.yaml names no `leads`: nobody may release or recall a job"
    if owner in situation.leads or str(uid) in situation.leads:
        return ""
    return f"the file belongs to {quoted(owner)}, who is none of the leads in site.yaml"


def _not_this_job(disk: Disk, desk: Desk, slip: Slip, situation: Situation) -> str:
    """Return why the slip does not fit the job as it stands, empty when it does."""
    wanted = Decision.HELD if slip.kind is SlipKind.CONCESSION else Decision.APPROVED
    root = desk.roots.held if wanted is Decision.HELD else desk.roots.approved
    folder = _name_of(disk, desk, slip.job, slip.workflow).target(root)
    record = valid_record(disk, folder) if disk.is_folder(folder) else None
    if record is None:
        job, shelf = quoted(slip.job), quoted(slip.workflow)
        return f"no {wanted.value} job {job} with a sound verdict stands in {shelf}"
    if _digest(disk, folder / VERDICT) != slip.verdict:
        return CHANGED
    if slip.kind is SlipKind.RECALL:
        return ""
    barred = [
        finding.rule
        for finding in record.verdict.findings
        if finding.outcome in {Outcome.HOLD, Outcome.NOT_JUDGED}
        and _is_barred(finding.rule, situation.no_concession)
    ]
    return f"site.yaml allows no concession for {listing(barred)}" if barred else ""


def _digest(disk: Disk, verdict: Path) -> str:
    return sha256_of(disk.read(verdict, MAX_VERDICT_BYTES))


def _is_barred(rule: str, marked: frozenset[str]) -> bool:
    return any(rule == entry or rule.startswith(f"{entry}.") for entry in marked)


def job_asked_for(disk: Disk, desk: Desk, read: ReadSlip) -> JobName:
    """Return the job whose turn a slip has to wait for."""
    return noted_job(disk, desk) or _name_of(disk, desk, *place_of(read, desk))


def _name_of(disk: Disk, desk: Desk, job: str, workflow: str) -> JobName:
    folder = known_folder(disk, desk.roots, shelf_name(workflow), tidy(job))
    return JobName(tidy(job), workflow, folder)


def place_of(read: ReadSlip, desk: Desk) -> tuple[str, str]:
    """Return job and workflow: the slip's, or a place of its own for one that is refused."""
    if read.slip and not read.refusal:
        return tidy(read.slip.job), read.slip.workflow
    return f"{tidy(desk.ticket.job_hint)} {desk.ticket.id[-8:]}", CONCESSIONS


def decide_by_slip(desk: Desk, read: ReadSlip, name: JobName, on_bench: OnBench) -> Verdict:
    """Return the verdict that the slip makes of the job, or that of a refused slip."""
    slip = JudgedSheet(
        name=on_bench.sheet_name,
        sha256=read.sha256,
        ticket=desk.ticket.id,
        read_as=READ_AS_SLIP,
        current=False,
        dropped_as=desk.ticket.sheet.own_name,
    )
    before = on_bench.earlier.verdict if on_bench.earlier else None
    if before is None:
        return _refused(desk, read, name, slip)
    after = replace(
        before,
        ticket=desk.ticket.id,
        arrived=desk.ticket.arrived,
        program=PROGRAM,
        sheets=(*before.sheets, slip),
        companions=on_bench.others,
        was=before.decision.value,
        concession=None,
    )
    if read.slip is None or read.refusal or on_bench.is_damaged:
        # It had the job already when it changed: what was found of the job must not be forgotten.
        return replace(after, decision=Decision.HELD, findings=(*before.findings, _refusal(read)))
    found = _without_slips(before.findings)
    if read.slip.kind is SlipKind.RECALL:
        findings = (*found, _recall(read.slip, read.owner))
        return replace(after, decision=Decision.HELD, findings=findings)
    missed = [
        finding.rule for finding in found if finding.outcome in {Outcome.HOLD, Outcome.NOT_JUDGED}
    ]
    words = (
        f"{plain(read.slip.by)} (file of {plain(read.owner)}) on {_day(desk)}: "
        f"{plain(read.slip.reason, 400)}; limits missed: {listing(dict.fromkeys(missed)) or 'none'}"
    )
    return concede(replace(after, findings=found), words)


def _without_slips(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings of the readings alone: a recall ends with the next word of a lead."""
    return tuple(finding for finding in findings if finding.rule not in _OF_SLIPS)


def _recall(slip: Slip, owner: str) -> Finding:
    says = f"recalled by {plain(slip.by)} (file of {plain(owner)}): {plain(slip.reason, 400)}"
    return Finding("job", RECALLED, Outcome.HOLD, says, do=(NO_PLATE, CALL_LEAD))


def _day(desk: Desk) -> str:
    return datetime.fromisoformat(desk.ticket.arrived).strftime("%Y-%m-%d %H:%M UTC")


def _refusal(read: ReadSlip) -> Finding:
    about = f" for job {quoted(read.slip.job)}" if read.slip else ""
    reason = read.refusal or "the job's last verdict cannot be read"
    says = f"the slip{about} is refused: {reason}"
    return Finding("job", REFUSED, Outcome.HOLD, says, do=(NEW_SLIP,))


def _refused(desk: Desk, read: ReadSlip, name: JobName, slip: JudgedSheet) -> Verdict:
    return Verdict(
        ticket=desk.ticket.id,
        job=name.job,
        workflow=name.workflow,
        customer="",
        decision=Decision.HELD,
        rules_fingerprint="",
        arrived=desk.ticket.arrived,
        program=PROGRAM,
        findings=(_refusal(read),),
        sheets=(slip,),
    )


def lay_slip(disk: Disk, folder: Path, slip: Slip, token: str) -> Path:
    """Write a slip into the concessions drop folder under a name of its own.

    Raises
    ------
    PermissionError : this user may not write there, and so may not release
    """
    name = f"{slip.kind.value}-{shelf_name(slip.job)[:60]}-{token}.csv"
    temporary = folder / f".{name}"
    disk.write_new(temporary, slip.to_bytes())
    target = folder / name
    try:
        disk.rename_new(temporary, target)
    except OSError:
        os.unlink(temporary)  # noqa: PTH108 -- our own half-made file, nothing is moved
        raise
    disk.sync(folder)
    return target
