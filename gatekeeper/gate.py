"""One job through the gate: the whole story on one page.

    claim → read → bench → judge → decide → file → record → clear

Every step may be repeated after a crash at any of its lines. Where a ticket goes on is looked up in
the state table (`filing/states.py`); once it is decided, nothing is read or judged again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from gatekeeper.control.room_sheets import is_about_the_room
from gatekeeper.control.room_verdict import judge_room_sheet
from gatekeeper.filing import attempts, bench, clearing, laying, moves, recovery, trouble
from gatekeeper.filing.claim import claim
from gatekeeper.filing.states import Step
from gatekeeper.filing.tickets import Sequence
from gatekeeper.intake.casework import case_of
from gatekeeper.intake.other_jobs import beside_other_jobs, signs_of
from gatekeeper.intake.reading import job_and_workflow, read_claimed
from gatekeeper.intake.unjudged import held_unread
from gatekeeper.judge import Judgement, judge
from gatekeeper.show.report import report_text
from gatekeeper.slips import conceding

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping
    from pathlib import Path

    from gatekeeper.case import FilmUse
    from gatekeeper.clock import Clock
    from gatekeeper.filing.desk import Desk, JobName
    from gatekeeper.filing.disk import Disk
    from gatekeeper.intake.reading import ReadSheet
    from gatekeeper.intake.situation import Situation
    from gatekeeper.sheet import Sheet


class Record(Protocol):
    """Where verdicts are remembered. If it fails, the outcome stands: job folders are records."""

    def job_of_digest(self, sha256: str, *, other_than: str) -> str | None:
        """Return another job judged by the same bytes, empty for none, None where nobody knows."""
        ...

    def job_of_digits(self, digits: str, *, ticket: str, other_than: str) -> FilmUse | None:
        """Return another job's film of the same digits, empty for none, None where nobody knows."""
        ...

    def remember(self, filed: Path, sheets: Mapping[str, Sheet]) -> None:
        """Remember a filed job; `sheets` by name, as far as this start has read them."""
        ...


@dataclass(frozen=True, slots=True)
class Tools:
    """What the gate works with; the service and the commands make real ones, tests make others."""

    disk: Disk
    clock: Clock
    situation: Situation  # rules, register, declarations and site as they are now
    record: Record
    ids: Sequence = field(default_factory=Sequence)
    rests: Callable[[Path], bool] = field(default=lambda _: True)  # nobody writes to it any more
    still_ours: Callable[[Desk], None] = field(default=lambda _: None)  # raises if not
    wait_for_turn: Callable[[str, Iterable[Hashable]], None] = field(default=lambda *_: None)
    busy: dict[tuple[str, str], str] = field(default_factory=dict)  # place → its earlier ticket
    unclaimed: set[Path] = field(default_factory=set)  # sheets whose tickets could not take them


@dataclass(frozen=True, slots=True)
class Passed:
    """A ticket that is done: where its job stands, and a further one if the original changed."""

    folder: Path
    further: Desk | None = None


def pass_gate(desk: Desk, tools: Tools, *, fault: str = "") -> Passed | None:
    """Take one ticket as far as it goes; None when it turned out not to be ours.

    Parameters
    ----------
    fault : what failed inside the program when it read this sheet; it is then held unread

    Raises
    ------
    RulesError : a file that governs the job is broken; the ticket waits
    RoomError, OSError : disk or share are at fault; the ticket waits
    """
    tools.still_ours(desk)
    step = recovery.put_right(tools.disk, desk)
    if step is None or (step is Step.CLAIM and not claim(tools.disk, desk)):
        clearing.discard(tools.disk, desk)
        return None
    sheets = {}
    if step <= Step.READ:
        is_slip = desk.ticket.kind == conceding.SLIP
        sheets = decide_by_slip(desk, tools) if is_slip else decide(desk, tools, fault)
    if step <= Step.FILE:
        tools.still_ours(desk)
        filed = moves.file_job(tools.disk, desk)
    else:
        filed = recovery.require_filed(tools.disk, desk)
    tools.record.remember(filed, sheets)
    return Passed(filed, clear(desk, tools, filed))


def decide(desk: Desk, tools: Tools, fault: str) -> dict[str, Sheet]:
    """Read the claimed sheet, judge its job on the bench, write the decision; return its sheets."""
    with attempts.counted(tools.disk, desk) as number:
        read = read_claimed(tools.disk, desk, tools.situation, attempt=number, fault=fault)
        job, workflow = job_and_workflow(desk, read, tools.situation)
        name = attempts.note_job(tools.disk, desk, job, workflow)
        tools.situation.require_good_rules(name.workflow, read.customer)
        _wait_for_earlier(name, desk, tools, signs_of(read.sha256, read.sheet))
        tools.still_ours(desk)
        bench.take_to_bench(tools.disk, desk, name)
        on_bench = laying.lay_in(
            tools.disk, desk, read.content, read.sha256, tools.situation.is_litter
        )
        judged, sheets = _judge(desk, tools, read, name, on_bench)
        report = report_text(judged.verdict, title=judged.title)
        tools.still_ours(desk)
        moves.write_decision(tools.disk, desk, judged.verdict, report)
    return sheets


def _wait_for_earlier(name: JobName, desk: Desk, tools: Tools, signs: Iterable[str]) -> None:
    """Raise while an earlier ticket has this job: tickets of one job are worked in order.

    Of tickets that go abreast, those of one job and those of the same readings go one after the
    other: the later one is to find in the history what the earlier one has put there.
    """
    tools.wait_for_turn(desk.ticket.id, (name.place, *filter(None, signs)))
    earlier = tools.busy.get(name.place, desk.ticket.id)
    if earlier < desk.ticket.id:
        raise trouble.earlier_first(name.job, earlier)


def decide_by_slip(desk: Desk, tools: Tools) -> dict[str, Sheet]:
    """Let a lead's slip decide a job that was judged before; nothing is measured or judged anew."""
    with attempts.counted(tools.disk, desk):
        read = conceding.read_slip(tools.disk, desk)
        asked_for = conceding.job_asked_for(tools.disk, desk, read)
        _wait_for_earlier(asked_for, desk, tools, (read.sha256,))
        read = conceding.weigh(tools.disk, desk, read, tools.situation)
        name = attempts.note_job(tools.disk, desk, *conceding.place_of(read, desk))
        tools.still_ours(desk)
        bench.take_to_bench(tools.disk, desk, name)
        if not read.refusal:  # another gate may have judged the job before it was taken
            read = conceding.weigh(tools.disk, desk, read, tools.situation)
        on_bench = laying.lay_in(
            tools.disk, desk, read.content, read.sha256, tools.situation.is_litter
        )
        verdict = conceding.decide_by_slip(desk, read, name, on_bench)
        known = tools.situation.library.workflows.get(verdict.workflow)
        report = report_text(verdict, title=known.title if known else "")
        tools.still_ours(desk)
        moves.write_decision(tools.disk, desk, verdict, report)
    return {}


def _judge(
    desk: Desk, tools: Tools, read: ReadSheet, name: JobName, on_bench: laying.OnBench
) -> tuple[Judgement, dict[str, Sheet]]:
    if not read.is_judged:
        return Judgement(held_unread(desk, read, name, on_bench), None, ()), {}
    used_for: str | None = ""
    if read.sheet:
        used_for = tools.record.job_of_digest(read.sha256, other_than=name.job)
    case = case_of(
        tools.disk, desk, tools.situation, read, name, on_bench=on_bench, used_for=used_for
    )
    known = tools.situation.library, tools.situation.register
    if read.sheet and is_about_the_room(case.newest.sheet):
        judged = judge_room_sheet(case, read.sheet, *known)
    else:
        case = beside_other_jobs(case, tools.record.job_of_digits)
        judged = judge(case, *known)
    return judged, {sheet.name: sheet.sheet for sheet in case.sheets if sheet.sheet}


def clear(desk: Desk, tools: Tools, filed: Path) -> Desk | None:
    """Clear the work away; an original that changed after it was read becomes another ticket."""
    further = None
    if not clearing.remove_judged_original(tools.disk, desk, filed):
        if desk.ticket.is_second_look and not tools.rests(desk.sheet_in_claim):
            raise trouble.still_written(desk.ticket.sheet.own_name)
        now = tools.clock.now()
        further = clearing.second_look(
            tools.disk, desk, tools.ids.next(now), now.isoformat(timespec="seconds")
        )
    clearing.bring_left_companions(tools.disk, desk, filed)
    clearing.remove_empty_dropped_folder(tools.disk, desk)
    clearing.discard(tools.disk, desk)
    return further
