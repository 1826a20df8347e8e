"""The job as a whole: can its sheets be read, do they agree, is it complete, does anybody know its names?

Why    a sheet that cannot be read, names another workflow than its folder, or stands for two of four separations says
       nothing about the plate that would be made.
Keys   none: these hold for every job.
Pass   one sheet for liquid-plate in drop/liquid-plate, customer and workflow known.
Held   `separations,2` and only black has been measured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.case import Case, Standing, fold
from gatekeeper.checks.advice import (
    ASK_NAME,
    CHECK_SHEET,
    EXPORT_AGAIN,
    MEASURE_AGAIN,
    MOVE_SHEET,
    WAIT_SEPARATION,
)
from gatekeeper.sheet import SheetKind
from gatekeeper.verdict import Finding, Outcome, Step
from gatekeeper.wording import counted as count_words
from gatekeeper.wording import did_you_mean, listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.library import UnknownNameError
    from gatekeeper.sheet import Trace

READABLE = "sheet.readable"
KIND = "sheet.kind"
OWN = "sheet.own"
AGREES = "job.agrees"
COMPLETE = "job.complete"
NAMES = "job.names"
JOB_RULES = (READABLE, KIND, OWN, AGREES, COMPLETE, NAMES)
"""What must pass for every job, whatever its rules."""


def _found(
    rule: str,
    outcome: Outcome,
    says: str,
    *,
    do: tuple[Step, ...] = (),
    measured: str | float | None = None,
    separation: str = "",
    trace: Trace | None = None,
) -> Finding:
    return Finding(
        check=rule.split(".", 1)[0],
        rule=rule,
        outcome=outcome,
        says=says,
        measured=measured,
        separation=separation,
        trace=str(trace) if trace else "",
        do=do,
    )


def judge_job(case: Case, counted: Standing) -> Iterator[Finding]:
    """Answer what holds for every job but its names, which `judge_names` answers."""
    yield from _readable(counted)
    yield from _kind(case)
    yield from _own_readings(case)
    yield from _agreement(case, counted)
    yield _completeness(counted)


def judge_names(error: UnknownNameError | None) -> Iterator[Finding]:
    """Say whether workflow and customer are known, and name the nearest known ones."""
    if error is None:
        yield _found(NAMES, Outcome.PASS, "workflow and customer are known")
    elif not error.name:
        says = f"neither the drop folder nor the sheet names a {error.kind}"
        yield _found(NAMES, Outcome.HOLD, says, do=(MOVE_SHEET,))
    else:
        says = f"no {error.kind} is called {quoted(error.name)}; {did_you_mean(error.name, error.known)}"
        yield _found(NAMES, Outcome.HOLD, says, measured=plain(error.name), do=(ASK_NAME,))


def _readable(counted: Standing) -> Iterator[Finding]:
    clean = True
    for sheet in counted.unreadable:
        problem = sheet.unreadable
        clean = False
        says = f"{plain(sheet.name)} cannot be read: {problem.says if problem else 'unknown reason'}"
        steps = (_as_step(problem.do), EXPORT_AGAIN) if problem and problem.do else (EXPORT_AGAIN,)
        yield _found(READABLE, Outcome.HOLD, says, do=steps, trace=problem.trace if problem else None)
    seen = []
    for owner, _ in counted.negatives:
        if owner.sheet is None or owner in seen:
            continue
        seen.append(owner)
        for problem in owner.sheet.problems:
            clean = False
            steps = (_as_step(problem.do), CHECK_SHEET) if problem.do else (CHECK_SHEET,)
            yield _found(READABLE, Outcome.HOLD, problem.says, do=steps, trace=problem.trace)
    if clean and counted.negatives:
        yield _found(READABLE, Outcome.PASS, "every line of the sheet could be read")
    elif clean:
        yield _found(READABLE, Outcome.HOLD, "the sheet has no negative in it", do=(EXPORT_AGAIN,))


def _as_step(do: str) -> Step:
    return Step(CHECK_SHEET.order, do[:1].upper() + do[1:] + ("" if do.endswith(".") else "."))


def _kind(case: Case) -> Iterator[Finding]:
    sheet = case.newest.sheet
    if sheet is None or sheet.kind is SheetKind.NEGATIVE:
        yield _found(KIND, Outcome.PASS, "a sheet of a negative")
        return
    says = f"this is a {sheet.kind.value} sheet: it says nothing about a negative, so no plate may rest on it"
    yield _found(KIND, Outcome.HOLD, says, measured=sheet.kind.value, do=(CHECK_SHEET,))


def _own_readings(case: Case) -> Iterator[Finding]:
    digest = case.newest.sha256
    if case.used_for:
        says = f"the same file was already used for job {quoted(case.used_for)}"
        yield _found(OWN, Outcome.HOLD, says, do=(CHECK_SHEET, MEASURE_AGAIN))
        return
    yield _found(OWN, Outcome.PASS, "no other job was judged by this file")
    if any(sheet.sha256 == digest for sheet in case.sheets[:-1]):
        yield _found("sheet.again", Outcome.NOTE, "the same bytes as an earlier sheet of this job")


def _agreement(case: Case, counted: Standing) -> Iterator[Finding]:
    troubles = []
    for _, negative in counted.negatives:
        stated = negative.workflow
        if stated and case.workflow and fold(stated.value) != fold(case.workflow):
            says = f"the sheet says workflow {quoted(stated.value)}, its folder {quoted(case.workflow)}"
            troubles.append(_found(AGREES, Outcome.HOLD, says, trace=stated.trace, do=(MOVE_SHEET,)))
        if negative.job and fold(negative.job.value) != fold(case.job):
            says = f"the sheet says job {quoted(negative.job.value)}, but was taken in for {quoted(case.job)}"
            troubles.append(_found(AGREES, Outcome.HOLD, says, trace=negative.job.trace, do=(CHECK_SHEET,)))
    for name in ("customer", "workflow"):
        values = {
            fold(value.value): value.value
            for _, negative in counted.negatives
            if (value := getattr(negative, name))
        }
        if len(values) > 1:
            says = f"the sheets of this job name different {name}s: {listing(values.values())}"
            troubles.append(_found(AGREES, Outcome.HOLD, says, do=(CHECK_SHEET,)))
    yield from troubles
    if not troubles:
        yield _found(AGREES, Outcome.PASS, "sheets and folder agree")


def _completeness(counted: Standing) -> Finding:
    names = [negative.separation_name or "unnamed" for _, negative in counted.negatives]
    stated = {int(n.separations.value) for _, n in counted.negatives if n.separations}
    if len(stated) > 1:
        says = f"the sheets say different numbers of separations: {listing(map(str, sorted(stated)))}"
        return _found(COMPLETE, Outcome.HOLD, says, do=(CHECK_SHEET,))
    if not stated:
        return _found(COMPLETE, Outcome.PASS, f"{count_words(len(names), 'negative')} measured")
    wanted = stated.pop()
    have = f"measured: {listing(names)}"
    if len(names) < wanted:
        says = f"waiting for {count_words(wanted - len(names), 'more separation')} of {wanted}; {have}"
        return _found(COMPLETE, Outcome.HOLD, says, do=(WAIT_SEPARATION,))
    if len(names) > wanted:
        says = f"the job has {wanted} separations, but {len(names)} were measured; {have}"
        return _found(COMPLETE, Outcome.HOLD, says, do=(CHECK_SHEET,))
    return _found(COMPLETE, Outcome.PASS, f"all {wanted} separations measured")
