"""Rows as the answers that they become. Pure: no database is asked here."""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import UTC
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from gatekeeper.history.past import (
    Counts,
    Event,
    JobLine,
    PastNegative,
    PastReading,
    PastVerdict,
    WorkflowCount,
)
from gatekeeper.verdict import (
    Decision,
    Finding,
    JudgedSheet,
    JudgedTicket,
    Outcome,
    Status,
    Step,
    Verdict,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from sqlalchemy import Row

    AnyRow = Row[tuple[Any, ...]]

_LINE = tuple(JobLine.__slots__)
_EVENT = tuple(Event.__slots__)
_READING = tuple(PastReading.__slots__)


def job_line(row: AnyRow) -> JobLine:
    """Return a row of `verdicts` as a line."""
    values = {name: getattr(row, name) for name in _LINE}
    return JobLine(**{**values, "decision": Decision(row.decision)})


def event(row: AnyRow) -> Event:
    """Return a row of `events`."""
    return Event(*(getattr(row, name) for name in _EVENT))


def counts(rows: Iterable[AnyRow]) -> Counts:
    """Return rows of `tallies` that come sorted by workflow."""
    by_workflow = []
    for workflow, group in groupby(rows, key=attrgetter("workflow")):
        jobs = {row.decision: row.jobs for row in group}
        by_workflow.append(WorkflowCount(workflow, jobs.get("approved", 0), jobs.get("held", 0)))
    return Counts(tuple(by_workflow))


def past_verdicts(
    verdicts: Iterable[AnyRow], findings: Iterable[AnyRow], sheets: Iterable[AnyRow]
) -> tuple[PastVerdict, ...]:
    """Return verdicts with their findings and sheets; the latter two come sorted by position."""
    findings_of: defaultdict[int, list[Finding]] = defaultdict(list)
    for row in findings:
        findings_of[row.verdict_id].append(_finding(row))
    sheets_of: defaultdict[int, list[JudgedSheet]] = defaultdict(list)
    for row in sheets:
        sheets_of[row.verdict_id].append(_sheet(row))
    return tuple(
        PastVerdict(job_line(row), _verdict(row, findings_of[row.id], sheets_of[row.id]))
        for row in verdicts
    )


def past_negatives(
    negatives: Iterable[AnyRow], readings: Iterable[AnyRow]
) -> tuple[PastNegative, ...]:
    """Return negatives with their readings; the latter come sorted by position."""
    readings_of: defaultdict[tuple[int, int], list[PastReading]] = defaultdict(list)
    for row in readings:
        reading = PastReading(*(getattr(row, name) for name in _READING))
        readings_of[row.sheet_id, row.negative].append(reading)
    return tuple(
        PastNegative(
            sheet=row.sheet,
            ticket=row.ticket,
            separation=row.separation,
            printer=row.printer,
            film_lot=row.film_lot,
            meter=row.meter,
            measured_at=row.measured_at,
            particulars=json.loads(row.particulars),
            readings=tuple(readings_of[row.sheet_id, row.position]),
        )
        for row in negatives
    )


def _verdict(row: AnyRow, findings: Sequence[Finding], sheets: Sequence[JudgedSheet]) -> Verdict:
    remarks = json.loads(row.remarks)
    return Verdict(
        ticket=row.ticket,
        job=row.job,
        workflow=row.workflow,
        customer=row.customer,
        decision=Decision(row.decision),
        rules_fingerprint=row.rules_fingerprint,
        arrived=row.arrived_at.astimezone(UTC).isoformat(),
        program=row.program,
        findings=tuple(findings),
        sheets=tuple(sheets),
        companions=tuple(remarks["companions"]),
        job_tickets=tuple(JudgedTicket(**ticket) for ticket in remarks.get("job_tickets", ())),
        status=tuple(Status(**status) for status in remarks["status"]),
        notes=tuple(remarks["notes"]),
        concession=row.concession,
        was=row.was,
        rules_text=row.rules_text or "",
        measurements=row.measurements,
    )


def _sheet(row: AnyRow) -> JudgedSheet:
    return JudgedSheet(
        name=row.name,
        sha256=row.sha256,
        ticket=row.ticket,
        separations=tuple(json.loads(row.separations)),
        read_as=row.read_as,
        current=row.current,
        dropped_as=row.dropped_as,
    )


def _finding(row: AnyRow) -> Finding:
    return Finding(
        check=row.check,
        rule=row.rule,
        outcome=Outcome(row.outcome),
        says=row.says,
        separation=row.separation,
        measured=row.measured if row.measured_words is None else row.measured_words,
        limit=row.limit if row.limit_words is None else row.limit_words,
        unit=row.unit,
        where=row.where,
        off=row.off,
        origin=row.origin,
        trace=row.trace,
        do=tuple(Step(*step) for step in json.loads(row.do)),
    )
