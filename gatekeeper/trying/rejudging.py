"""Past jobs through the checks once more, from their recorded readings, under other rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.case import Case, JobSheet, SameReadings, standing
from gatekeeper.checks.job import JOB_RULES, NAMES
from gatekeeper.judge import judge
from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Problem
from gatekeeper.signals import recorded
from gatekeeper.verdict import Decision, Finding, Outcome, Requirement, decide, unanswered
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import tzinfo

    from gatekeeper.history.replay import (
        JobAnswer,
        LikeFilm,
        PastJob,
        PastSheet,
        PastSignal,
        Replay,
    )
    from gatekeeper.room import Book
    from gatekeeper.signals import Signals

OF_THE_JOB = frozenset({"sheet", "job"})
"""Checks that look at sheets and job as such. Rule files change only whether names are known."""

_UNREAD = Problem("it could not be read", "")


def judge_again(
    past: Replay, jobs: Sequence[PastJob], book: Book, zone: tzinfo
) -> dict[int, frozenset[str]]:
    """Return by verdict the rules that would hold the job, empty where it would be approved."""
    ids = [job.id for job in jobs]
    sheets, answers, arrivals = past.sheets(ids), past.job_answers(ids), past.arrivals(ids)
    alike, signals = past.like_films(ids), past.signals(ids)
    found: dict[int, frozenset[str]] = {}
    for job in jobs:
        found_sheets = tuple(map(_job_sheet, sheets.get(job.id, ())))
        case = Case(
            ticket=job.ticket,
            job=job.job,
            workflow=job.workflow,
            sheets=found_sheets,
            arrived=arrivals[job.id],
            time_zone=zone,
            same_readings=tuple(_same_readings(found_sheets, alike.get(job.id, ()))),
            signals=_signals(found_sheets, signals.get(job.id, ())),
        )
        found[job.id] = _holding(case, answers.get(job.id, ()), book)
    return found


def _job_sheet(sheet: PastSheet) -> JobSheet:
    if not sheet.counts:
        return JobSheet(
            sheet.name, sheet.sha256, sheet.ticket, None, replaced=True, before=sheet.sheet
        )
    problem = None if sheet.sheet else _UNREAD
    return JobSheet(sheet.name, sheet.sha256, sheet.ticket, sheet.sheet, problem)


def _signals(
    sheets: tuple[JobSheet, ...], recorded_then: Sequence[PastSignal]
) -> Mapping[str, Signals]:
    """Return what the charts showed when the job was judged, as its own findings say."""
    names = [negative.separation_name for _, negative in standing(sheets).negatives]
    return {
        fold(name): recorded(
            (signal.words, signal.says) for signal in recorded_then if signal.separation == name
        )
        for name in names
    }


def _same_readings(sheets: Sequence[JobSheet], alike: Sequence[LikeFilm]) -> Iterator[SameReadings]:
    """Yield what was known of other jobs' films then; their names are not needed any more."""
    days_of = {film.separation: film.days for film in alike}
    for _, negative in standing(tuple(sheets)).negatives:
        if negative.separation_name in days_of:
            days = days_of[negative.separation_name]
            yield SameReadings(digits_of(negative).sha256, "another", days)


def _holding(case: Case, recorded: Sequence[JobAnswer], book: Book) -> frozenset[str]:
    if all(sheet.replaced for sheet in case.sheets):
        return frozenset(answer.rule for answer in recorded if answer.outcome != "pass")
    judgement = judge(case, book.library, book.register)
    kept = [
        Finding(answer.rule.split(".", 1)[0], answer.rule, Outcome(answer.outcome), answer.says)
        for answer in recorded
        if answer.rule != NAMES
    ]
    fresh = [
        finding
        for finding in judgement.verdict.findings
        if finding.check not in OF_THE_JOB or finding.rule == NAMES
    ]
    required = [Requirement(rule) for rule in JOB_RULES]
    if judgement.rules:
        names = [measured.negative.separation_name for measured in judgement.measured]
        required += judgement.rules.requirements(names)
    findings = [*kept, *fresh]
    if decide(required, findings) is Decision.APPROVED:
        return frozenset()
    harmless = {Outcome.PASS, Outcome.NOTE}
    return frozenset(
        [finding.rule for finding in findings if finding.outcome not in harmless]
        + [requirement.rule for requirement in unanswered(required, findings)]
    )
