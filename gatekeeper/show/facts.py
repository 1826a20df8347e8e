"""What a report says, in the order in which people need it; how it looks is not decided here.

The report on paper and the one on a terminal are both laid out from these facts. All text that came
from outside has passed `wording.plain` here, so that whoever lays it out need not think of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.case import READ_AS_SLIP
from gatekeeper.rules.difference import read_record
from gatekeeper.shelf_names import CONCESSIONS
from gatekeeper.show.limits import Edge, Figures, edge_of, figures_of
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.odds import doubt_of, odds_of
from gatekeeper.show.passed import PassedGroup, passed_groups
from gatekeeper.show.steps import ToDo, merged_steps
from gatekeeper.verdict import Decision, Outcome
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from gatekeeper.rules.difference import Said
    from gatekeeper.verdict import Finding, JudgedSheet, Status, Verdict

HOLDING = {Outcome.HOLD, Outcome.NOT_JUDGED}

MAY_BE_PLATED = (
    "This job was approved before. A plate may have been made from it: find that plate, mark it "
    "and set it aside until this is settled."
)
NO_REASON = (
    "No finding gives a reason, yet not every limit in force was met. Call the plate-room lead."
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One finding that holds the job."""

    number: int
    judged: bool
    separation: str
    rule: str
    says: str
    figures: Figures
    doubt: str
    odds: str
    where: str
    origin: str  # file:line (layer)
    trace: str
    edge: Edge | None


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """Everything that a report says about one verdict."""

    headline: str  # APPROVED, APPROVED UNDER CONCESSION or HELD
    job: str
    summary: str
    warning: str
    head: tuple[tuple[str, str], ...]
    reasons_title: str
    reasons: tuple[Reason, ...]
    to_do: tuple[ToDo, ...]
    passed: tuple[PassedGroup, ...]
    status: tuple[tuple[str, str], ...]
    readings: tuple[tuple[str, str], ...]  # each measurement of a negative measured again
    not_judged: tuple[tuple[str, str], ...]  # what, and why
    notes: tuple[str, ...]
    foot: tuple[tuple[str, str], ...]


def facts_of(verdict: Verdict, *, title: str = "") -> ReportFacts:
    """Return the facts; `title` is what people call the workflow."""
    holding = [finding for finding in verdict.findings if finding.outcome in HOLDING]
    said = read_record(verdict.rules_text).rules if holding else {}
    reasons = tuple(
        _reason(number, finding, said.get(finding.rule))
        for number, finding in enumerate(holding, start=1)
    )
    held = verdict.decision is Decision.HELD
    return ReportFacts(
        headline=_headline(verdict),
        job=plain(verdict.job),
        summary=_summary(verdict, len(reasons)),
        warning=MAY_BE_PLATED if held and verdict.was == Decision.APPROVED else "",
        head=tuple(_head(verdict, title)),
        reasons_title="why it is held" if held else "what does not conform",
        reasons=reasons,
        to_do=merged_steps(verdict.findings, holding if held else ()),
        passed=passed_groups(verdict.findings),
        status=tuple(_status(status for status in verdict.status if not status.is_of_a_reading)),
        readings=tuple(_status(status for status in verdict.status if status.is_of_a_reading)),
        not_judged=tuple(_not_judged(verdict, reasons)),
        notes=tuple(_notes(verdict)),
        foot=tuple(_foot(verdict)),
    )


def details_of(reason: Reason, drawn: str = "") -> Iterator[tuple[str, str]]:
    """Return what a reason knows beside its sentence, each with a label; `drawn` is a scale."""
    figures = reason.figures
    rows = (
        ("on", ", ".join(filter(None, (reason.separation, reason.where)))),
        ("measured", " ".join(filter(None, (figures.measured, reason.doubt)))),
        ("asked", figures.asked),
        (figures.off_label, figures.off),
        ("odds", f"{reason.odds} that the true value conforms" if reason.odds else ""),
        ("", drawn),
        ("rule", ", ".join(filter(None, (reason.rule, reason.origin)))),
        ("in sheet", reason.trace),
    )
    return ((label, text) for label, text in rows if text)


def one_line(verdict: Verdict) -> str:
    """Return why in one line: the first reason, and how many more there are."""
    says = [plain(item.says, LONGEST) for item in verdict.findings if item.outcome in HOLDING]
    if verdict.decision is Decision.APPROVED:
        if verdict.concession is not None:
            return f"concession: {plain(verdict.concession, LONGEST)}"
        return "every limit met"
    if not says:
        return NO_REASON
    return says[0] if len(says) == 1 else f"{says[0]} (and {len(says) - 1} more)"


def _headline(verdict: Verdict) -> str:
    if verdict.decision is Decision.HELD:
        return "HELD"
    return "APPROVED" if verdict.concession is None else "APPROVED UNDER CONCESSION"


def _summary(verdict: Verdict, reasons: int) -> str:
    if verdict.workflow == CONCESSIONS:
        return "The slip is refused, and the job that it names stays as it was."
    if verdict.decision is Decision.HELD:
        if not reasons:
            return f"Make no plate from it. {NO_REASON}"
        return f"Make no plate from it: {counted(reasons, 'reason')}, below."
    if verdict.concession is not None:
        return f"It does not conform, and may be used: {plain(verdict.concession, LONGEST)}"
    return "Every limit in force was met."


def _head(verdict: Verdict, title: str) -> Iterator[tuple[str, str]]:
    yield "Job", plain(verdict.job)
    yield "Customer", plain(verdict.customer) or "not named"
    workflow = plain(verdict.workflow) or "not known"
    yield "Workflow", f"{workflow} ({plain(title)})" if title else workflow
    current = [sheet for sheet in verdict.sheets if sheet.current]
    names = [plain(name) for sheet in current for name in sheet.separations if name]
    if names:
        yield "Separations", ", ".join(dict.fromkeys(names))
    for sheet in verdict.sheets:
        is_slip = sheet.read_as == READ_AS_SLIP
        yield ("Slip", plain(sheet.name)) if is_slip else ("Sheet", _sheet(sheet))
    yield from _companions(verdict)
    if verdict.measurements > 1:
        newest = "this verdict rests on the newest of each separation"
        yield "Judged", f"{counted(verdict.measurements, 'sheet')} so far; {newest}"
    if verdict.was:
        yield "Before", plain(verdict.was)
    if verdict.concession is not None:
        yield "Concession", plain(verdict.concession, LONGEST)


def _companions(verdict: Verdict) -> Iterator[tuple[str, str]]:
    tickets = {ticket.name: ticket for ticket in verdict.job_tickets}
    for name, ticket in tickets.items():
        yield "Job ticket", plain(name) + ("" if ticket.current else ", replaced by a newer one")
    for name in verdict.companions:
        if name not in tickets:
            yield "Companion", plain(name)


def _sheet(sheet: JudgedSheet) -> str:
    parts = [plain(name) for name in (sheet.name, sheet.read_as, *sheet.separations) if name]
    if not sheet.current:
        parts.append("replaced by a newer sheet")
    return ", ".join(parts)


def _reason(number: int, finding: Finding, said: Said | None) -> Reason:
    layer = f" ({said.layer})" if said and said.origin == finding.origin else ""
    return Reason(
        number=number,
        judged=finding.outcome is Outcome.HOLD,
        separation=plain(finding.separation),
        rule=plain(finding.rule),
        says=plain(finding.says, LONGEST),
        figures=figures_of(finding),
        doubt=doubt_of(finding),
        odds=odds_of(finding),
        where=plain(finding.where),
        origin=plain(finding.origin, LONGEST) + layer,
        trace=plain(finding.trace),
        edge=edge_of(finding),
    )


def _status(lines: Iterable[Status]) -> Iterator[tuple[str, str]]:
    """Yield each state once, with the separations that it served where it did not serve all."""
    told = list(lines)
    served: dict[tuple[str, str], list[str]] = {}
    for status in told:
        served.setdefault((status.subject, status.says), []).append(plain(status.separation))
    everything = {status.separation for status in told}
    subjects = list(dict.fromkeys(status.subject for status in told))
    for (subject, says), separations in sorted(
        served.items(), key=lambda item: subjects.index(item[0][0])
    ):
        named = "" if len(separations) == len(everything) else f" ({', '.join(separations)})"
        yield plain(subject), plain(says, LONGEST) + named


def _not_judged(verdict: Verdict, reasons: Collection[Reason]) -> Iterator[tuple[str, str]]:
    """Yield what was left unanswered, and why; nothing only where every limit has its answer."""
    if not any(finding.origin for finding in verdict.findings):
        yield "every limit of the rules", "nothing could be compared with them"
    for sheet in verdict.sheets:
        if sheet.current and not sheet.separations:
            yield plain(sheet.name), "no negative could be read from it"
    for reason in reasons:
        if not reason.judged:
            separation = f" ({reason.separation})" if reason.separation else ""
            yield reason.rule + separation, f"see reason {reason.number}"
    if verdict.decision is Decision.HELD and not reasons:
        yield "at least one limit", "no finding answers it"


def _notes(verdict: Verdict) -> Iterator[str]:
    for finding in verdict.findings:
        if finding.outcome is Outcome.NOTE:
            separation = f"{plain(finding.separation)}: " if finding.separation else ""
            trace = f" ({plain(finding.trace)})" if finding.trace else ""
            yield separation + plain(finding.says, LONGEST) + trace
    for note in verdict.notes:
        yield plain(note, LONGEST)


def _foot(verdict: Verdict) -> Iterator[tuple[str, str]]:
    yield "Rules", plain(verdict.rules_fingerprint)[:12] or "none were in force"
    yield "Program", plain(verdict.program)
    yield "Ticket", plain(verdict.ticket)
    yield "Arrived", plain(verdict.arrived)
