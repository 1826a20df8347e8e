"""One job through the gate: the whole story on one page.

    claim → read → bench → judge → decide → file → record → clean

Every step may be repeated after a crash at any of its lines. Where a ticket goes on is looked up in
the state table (`filing/states.py`); once it is decided, nothing is read or judged again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from gatekeeper.errors import RoomError, RulesError
from gatekeeper.filing import attempts, bench, moves, recovery
from gatekeeper.filing import claim as claiming
from gatekeeper.filing.states import Step
from gatekeeper.filing.tickets import new_id
from gatekeeper.intake.reading import ReadSheet, case_of, job_name, read_claimed
from gatekeeper.judge import judge
from gatekeeper.show.report import report_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.filing.bench import OnBench
    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.situation import Situation
    from gatekeeper.sheet import Sheet


class Record(Protocol):
    """Where verdicts are remembered. If it fails, the outcome stands: job folders are records."""

    def job_of_digest(self, sha256: str, *, other_than: str) -> str:
        """Return another job that was judged by the same bytes, empty where none is known."""
        ...

    def remember(self, filed: Path, sheets: Mapping[str, Sheet] | None) -> None:
        """Remember a filed job; `sheets` by name, None when it was judged before a restart."""
        ...


@dataclass(frozen=True, slots=True)
class Tools:
    """What the gate works with; the service and the commands make real ones, tests make others."""

    disk: Disk
    clock: Clock
    situation: Situation  # rules, register, declarations and site as they are now
    record: Record
    # (workflow, folder) → earlier ticket
    stuck: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Passed:
    """A ticket that is done: where its job stands, and a further one if the original changed."""

    folder: Path
    further: tuple[Desk, ...] = ()


def pass_gate(
    desk: Desk, tools: Tools, *, is_new_start: bool = True, fault: str = ""
) -> Passed | None:
    """Take one ticket as far as it goes; None when it turned out not to be ours.

    Parameters
    ----------
    is_new_start : whether this run of the program begins on the ticket; such starts are counted
    fault : what failed inside the program when it read this sheet; it is then held unread

    Raises
    ------
    RulesError : a file that governs the job is broken; the ticket waits
    RoomError, OSError : disk or share are at fault; the ticket waits
    """
    row, step = recovery.put_right(tools.disk, desk)
    if step is None or (step is Step.CLAIM and not claiming.claim(tools.disk, desk)):
        if row.go_on is not None:
            moves.discard(tools.disk, desk)
        return None
    sheets = None
    if step <= Step.READ:
        sheets = judge_on_bench(desk, tools, is_new_start=is_new_start, fault=fault)
    if step <= Step.FILE:
        filed = moves.file_job(tools.disk, desk, _noted(desk, tools))
    else:
        filed = _filed_already(desk, tools)
    tools.record.remember(filed, sheets)
    return Passed(filed, clean(desk, tools, filed))


def judge_on_bench(desk: Desk, tools: Tools, *, is_new_start: bool, fault: str) -> dict[str, Sheet]:
    """Read the claimed sheet, judge its job on the bench, write the decision; return its sheets."""
    number = attempts.count_attempt(tools.disk, desk) if is_new_start else 0
    try:
        read = read_claimed(tools.disk, desk, tools.situation, attempt=number, fault=fault)
        name = attempts.note_job(tools.disk, desk, job_name(desk, read, tools.situation))
        tools.situation.require_good_rules(name.workflow, read.customer)
        _require_free(name, desk, tools)
        on_bench = _lay_on_bench(desk, tools, read, name)
        used_for = tools.record.job_of_digest(read.sha256, other_than=name.job)
        case = case_of(
            tools.disk, desk, tools.situation, read, name, on_bench=on_bench, used_for=used_for
        )
        judgement = judge(case, tools.situation.library, tools.situation.register)
    except (RulesError, RoomError, OSError):
        if number:  # this start ended in good order: reading the sheet did not bring it down
            attempts.forget_attempt(tools.disk, desk, number)
        raise
    report = report_text(judgement.verdict, title=judgement.title)
    moves.write_decision(tools.disk, desk, judgement.verdict, report)
    return {sheet.name: sheet.sheet for sheet in case.sheets if sheet.sheet}


def _require_free(name: JobName, desk: Desk, tools: Tools) -> None:
    """Raise while an earlier ticket has this job on its bench: tickets of a job go in order."""
    earlier = tools.stuck.get((name.workflow, name.folder), desk.ticket.id)
    if earlier < desk.ticket.id:
        raise RoomError(
            f"job {name.job!r} waits until its earlier sheet is filed",
            where=f"ticket {earlier}",
            do="mend what keeps the earlier one; this one follows by itself",
        )


def _lay_on_bench(desk: Desk, tools: Tools, read: ReadSheet, name: JobName) -> OnBench:
    bench.take_to_bench(tools.disk, desk, name)
    return bench.lay_in(tools.disk, desk, read.content, read.sha256)


def clean(desk: Desk, tools: Tools, filed: Path) -> tuple[Desk, ...]:
    """Clear the work away; an original that changed after it was read becomes another ticket."""
    further = []
    for original in moves.changed_originals(tools.disk, desk, filed):
        now = tools.clock.now()
        further.append(
            claiming.reclaim_changed(
                tools.disk, desk, original, new_id(now), now.isoformat(timespec="seconds")
            )
        )
    moves.discard(tools.disk, desk)
    folder = desk.sheet_in_drop.parent
    if folder != desk.drop_folder and not tools.disk.names(folder):
        tools.disk.remove_folder(folder)  # a dropped folder that is now empty
    return tuple(further)


def _noted(desk: Desk, tools: Tools) -> JobName:
    name = attempts.noted_job(tools.disk, desk)
    if name is None:
        raise RoomError(f"ticket {desk.ticket.id} is decided, but its {attempts.JOB_FILE} is gone")
    return name


def _filed_already(desk: Desk, tools: Tools) -> Path:
    filed = recovery.filed_place(tools.disk, desk)
    if filed is None:
        raise RoomError(f"ticket {desk.ticket.id} was filed a moment ago, and its folder is gone")
    return filed
