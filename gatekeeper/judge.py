"""Sheets, rules and register in, verdict out. Pure: no file, no clock, no network."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper import __version__
from gatekeeper.case import READ_AS_SLIP, Case, Standing, standing
from gatekeeper.checks.interface import Subject
from gatekeeper.checks.job import JOB_RULES, customer_before, judge_job, judge_names
from gatekeeper.checks.job_ticket import RULE as TICKET_RULE
from gatekeeper.checks.job_ticket import judge_tickets, refused_tickets, troubled_tickets
from gatekeeper.checks.measured import Measured, measure
from gatekeeper.checks.measured_before import status_of_measurements
from gatekeeper.checks.registry import run_checks
from gatekeeper.checks.status import status_of
from gatekeeper.earlier import earlier_measurements
from gatekeeper.likeness import digits_of
from gatekeeper.rules.job_ticket import TicketError, added_up, read_ticket
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.verdict import (
    Finding,
    JudgedSheet,
    JudgedTicket,
    Requirement,
    Verdict,
    decide,
)
from gatekeeper.wording import fold, listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library
    from gatekeeper.rules.merge import Layer
    from gatekeeper.verdict import Status
    from gatekeeper.yamlfiles.places import FileProblem

PROGRAM = f"gatekeeper {__version__}"


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict, the rules it rests on and the readings as they were judged."""

    verdict: Verdict
    rules: EffectiveRules | None  # None where nobody knows the workflow or the customer
    measured: tuple[Measured, ...]
    title: str = ""


def judge(case: Case, library: Library, register: Register) -> Judgement:
    """Judge a job over the newest negative of each separation.

    Raises
    ------
    BrokenFilesError : a rule file that governs the job is broken; the job waits
    """
    counted = standing(case.sheets)
    findings = list(judge_job(case, counted))
    rules = _rules(case, counted, library, findings)
    if case.tickets_in_force:
        rules = _with_tickets(case, counted, library, rules, findings)
    subjects = _subjects(case, counted, rules, register) if rules else ()
    for subject in subjects:
        findings += run_checks(subject)
    required = [Requirement(rule) for rule in JOB_RULES]
    required += [Requirement(TICKET_RULE)] if case.tickets_in_force else []
    if rules:
        required += rules.requirements([subject.negative.separation_name for subject in subjects])
    verdict = Verdict(
        ticket=case.ticket,
        job=case.job,
        workflow=workflow_of(case, counted),
        customer=rules.customer if rules else customer_of(case, counted),
        decision=decide(required, findings),
        rules_fingerprint=rules.fingerprint if rules else "",
        arrived=case.arrived.astimezone(case.time_zone).isoformat(timespec="seconds"),
        program=PROGRAM,
        findings=tuple(findings),
        sheets=_judged_sheets(case, counted),
        companions=case.companions,
        job_tickets=judged_tickets(case),
        status=_status(subjects),
        notes=(*_notes(case, rules, subjects), *_unasked(rules, library)),
        was=case.was,
        rules_text=rules.text if rules else "",
        measurements=sum(sheet.read_as != READ_AS_SLIP for sheet in case.sheets),
    )
    measured = tuple(subject.measured for subject in subjects)
    return Judgement(verdict, rules, measured, rules.title if rules else "")


def workflow_of(case: Case, counted: Standing) -> str:
    """Return the workflow that judges: the drop folder's, else the newest sheet's."""
    if case.workflow:
        return case.workflow
    named = [negative.workflow.value for _, negative in counted.negatives if negative.workflow]
    return named[-1] if named else ""


def customer_of(case: Case, counted: Standing) -> str:
    """Return the customer that the newest sheet names, or an earlier one where it names none.

    A corrected sheet that leaves the line out must not escape the customer's own limits.
    """
    named = [negative.customer.value for _, negative in counted.negatives if negative.customer]
    return named[-1] if named else customer_before(case)


def _rules(
    case: Case, counted: Standing, library: Library, findings: list[Finding]
) -> EffectiveRules | None:
    """Return the rules in force; where a name is not known, add the finding that says so."""
    try:
        rules = library.effective(workflow_of(case, counted), customer_of(case, counted))
    except UnknownNameError as error:
        findings += judge_names(error)
        return None
    findings += judge_names(None, rules.customer)
    return rules


def _with_tickets(
    case: Case,
    counted: Standing,
    library: Library,
    rules: EffectiveRules | None,
    findings: list[Finding],
) -> EffectiveRules | None:
    """Return the rules under the job's own tickets, or without them and with what is wrong."""
    tickets = case.tickets_in_force
    if troubled := list(troubled_tickets(tickets)):
        findings += troubled
        return rules
    try:
        asked = _asked(case)
        if rules is None:
            return None
        names = workflow_of(case, counted), customer_of(case, counted)
        rules = library.effective(*names, added_up(asked))
    except TicketError as error:
        findings += refused_tickets(error.problems)
    else:
        findings += judge_tickets(rules.from_ticket, [ticket.name for ticket in tickets])
    return rules


def _asked(case: Case) -> list[Layer]:
    """Return what each ticket in force asks; every problem of all of them at once."""
    layers: list[Layer] = []
    problems: list[FileProblem] = []
    for ticket in case.tickets_in_force:
        try:
            layers.append(read_ticket(ticket.content, ticket.name, case.job))
        except TicketError as error:
            problems += error.problems
    if problems:
        raise TicketError(problems)
    return layers


def judged_tickets(case: Case) -> tuple[JudgedTicket, ...]:
    """Return the job's tickets for the record."""
    return tuple(
        JudgedTicket(ticket.name, ticket.sha256, ticket.dropped_as, not ticket.replaced)
        for ticket in case.tickets
    )


def _subjects(
    case: Case, counted: Standing, rules: EffectiveRules, register: Register
) -> tuple[Subject, ...]:
    measured = tuple(measure(negative) for _, negative in counted.negatives)
    same = {found.digits: found for found in case.same_readings}
    return tuple(
        Subject(
            one,
            rules,
            register,
            case.arrived,
            case.time_zone,
            others=tuple(other for other in measured if other is not one),
            earlier=earlier_measurements(case.sheets, owner, negative, case.time_zone),
            same_readings=same.get(digits_of(one.negative).sha256) if same else None,
            signals=case.signals.get(fold(one.negative.separation_name)),
        )
        for one, (owner, negative) in zip(measured, counted.negatives, strict=True)
    )


def _judged_sheets(case: Case, counted: Standing) -> tuple[JudgedSheet, ...]:
    return tuple(
        JudgedSheet(
            name=sheet.name,
            sha256=sheet.sha256,
            ticket=sheet.ticket,
            separations=tuple(negative.separation_name for negative in sheet.sheet.negatives)
            if sheet.sheet
            else sheet.separations,
            read_as=sheet.sheet.read_as if sheet.sheet else sheet.read_as,
            current=counted.counts(sheet),
            dropped_as=sheet.dropped_as,
            used_for=sheet.used_for or (case.used_for if sheet is case.newest else ""),
        )
        for sheet in case.sheets
    )


def _status(subjects: tuple[Subject, ...]) -> tuple[Status, ...]:
    return tuple(
        line
        for subject in subjects
        for line in (*status_of(subject), *status_of_measurements(subject))
    )


def _unasked(rules: EffectiveRules | None, library: Library) -> Iterator[str]:
    """Say whose limits a job escapes that names no customer, where its rules let it."""
    if rules is None or rules.customer or rules.limit("required", "customer"):
        return
    asking = library.customers_with_more(rules.workflow)
    if asking:
        yield (
            f"no customer is named, so what {listing(asking)} may ask on top is not asked; "
            f"`required: [customer]` in the workflow's file holds such a sheet"
        )


def _notes(
    case: Case, rules: EffectiveRules | None, subjects: tuple[Subject, ...]
) -> tuple[str, ...]:
    notes = list(case.notes)
    notes += rules.notes if rules else ()
    notes += case.newest.sheet.notes if case.newest.sheet else ()
    notes += [subject.measured.zero_note for subject in subjects if subject.measured.zero_note]
    return tuple(dict.fromkeys(notes))
