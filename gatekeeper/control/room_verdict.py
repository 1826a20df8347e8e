"""Sheets about the room judged: what they say of printer or meter, and whether it can be used.

`approved` means here that the sheet is sound and its result may be used; it stands on a shelf of
its own and no plate ever rests on it. Pure: no file, no clock, no network.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.job import OWN, READABLE, judge_file
from gatekeeper.control.curve import FIT, build
from gatekeeper.control.meter_check import CHECK_RULES, judge_check
from gatekeeper.control.meter_study import STUDY_RULES, judge_study
from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.control.wedge import WEDGE_RULES, Room, read_wedge
from gatekeeper.judge import PROGRAM, Judgement, judged_tickets
from gatekeeper.sheet import SheetKind
from gatekeeper.verdict import JudgedSheet, Requirement, Status, Verdict, decide
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.case import Case
    from gatekeeper.register.register import Register
    from gatekeeper.rules.library import Library
    from gatekeeper.sheet import Sheet
    from gatekeeper.verdict import Finding

FILE_RULES = (READABLE, OWN)
"""What must pass for every sheet about the room, whatever its kind."""


def judge_room_sheet(case: Case, sheet: Sheet, library: Library, register: Register) -> Judgement:
    """Judge the newest sheet of a record; older ones beside it count no more.

    Raises
    ------
    BrokenFilesError : a rule file that governs its workflow is broken; the sheet waits
    """
    room = Room(library, register, case.arrived, case.time_zone)
    findings = list(judge_file(case))
    status: tuple[Status, ...] = ()
    required: tuple[str, ...] = FILE_RULES
    if sheet.negatives and not sheet.problems:
        found, status, rules = _JUDGES[sheet.kind](sheet, room, case.dropped_in)
        findings += found
        required += rules
    verdict = Verdict(
        ticket=case.ticket,
        job=case.job,
        workflow=SHELVES[sheet.kind],
        customer="",
        decision=decide([Requirement(rule) for rule in required], findings),
        rules_fingerprint="",
        arrived=case.arrived.astimezone(case.time_zone).isoformat(timespec="seconds"),
        program=PROGRAM,
        findings=tuple(findings),
        sheets=tuple(_judged_sheets(case)),
        companions=case.companions,
        job_tickets=judged_tickets(case),
        status=status,
        notes=tuple(dict.fromkeys((*case.notes, *sheet.notes, *_idle_tickets(case)))),
        was=case.was,
        measurements=len(case.sheets),
    )
    return Judgement(verdict, None, (), sheet.kind.value)


def _idle_tickets(case: Case) -> Iterator[str]:
    for ticket in case.tickets_in_force:
        yield f"the job ticket {plain(ticket.name)} says nothing of a sheet about the room"


_Found = tuple[list["Finding"], tuple[Status, ...], tuple[str, ...]]


def _wedge(sheet: Sheet, room: Room, dropped_in: str) -> _Found:
    wedge, findings = read_wedge(sheet.negatives[0], room, dropped_in)
    if wedge is None:
        return list(findings), (), (*WEDGE_RULES, FIT)
    curve, fit = build(wedge)
    status: tuple[Status, ...] = ()
    if curve:
        says = (
            f"{curve.name}: the mid-tone reads {curve.mid_tone:.1f} % {curve.read_how}, "
            f"{curve.predicted_mid_tone:.1f} ± {curve.error:.1f} % through the new curve; "
            "take it with `gatekeeper curve accept`"
        )
        status = (Status("curve", says),)
    return [*findings, *fit], status, (*WEDGE_RULES, FIT)


def _check(sheet: Sheet, room: Room, _dropped_in: str) -> _Found:
    findings, status = judge_check(sheet.negatives[0], room)
    return findings, status, CHECK_RULES


def _study(sheet: Sheet, room: Room, _dropped_in: str) -> _Found:
    findings, status = judge_study(sheet.negatives, room)
    return findings, status, STUDY_RULES


_JUDGES = {
    SheetKind.WEDGE: _wedge,
    SheetKind.METER_CHECK: _check,
    SheetKind.METER_STUDY: _study,
}


def _judged_sheets(case: Case) -> Iterator[JudgedSheet]:
    for sheet in case.sheets:
        is_newest = sheet is case.newest
        yield JudgedSheet(
            name=sheet.name,
            sha256=sheet.sha256,
            ticket=sheet.ticket,
            separations=tuple(negative.separation_name for negative in sheet.sheet.negatives)
            if sheet.sheet
            else sheet.separations,
            read_as=sheet.sheet.read_as if sheet.sheet else sheet.read_as,
            current=is_newest,
            dropped_as=sheet.dropped_as,
            used_for=sheet.used_for or (case.used_for if is_newest else ""),
        )
