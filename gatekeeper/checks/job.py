"""The job as a whole: its sheets can be read, agree, are complete, and somebody knows its names.

Why    a sheet that cannot be read, names another workflow than its folder, or stands for two of
       four separations says nothing about the plate that would be made.
Keys   none: these hold for every job.
Source common practice.
Pass   one sheet for liquid-plate in drop/liquid-plate, customer and workflow known.
Held   `separations,2` and only black has been measured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.case import Case, JobSheet, Standing
from gatekeeper.checks.advice import (
    ASK_NAME,
    CHECK_SHEET,
    EXPORT_AGAIN,
    MEASURE_AGAIN,
    MOVE_SHEET,
    RIGHT_FOLDER,
    WAIT_SEPARATION,
)
from gatekeeper.verdict import Finding, Outcome, Step
from gatekeeper.wording import counted as count_words
from gatekeeper.wording import did_you_mean, fold, listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.library import UnknownNameError
    from gatekeeper.sheet import Negative, Problem, Trace

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
    limit: str | float | None = None,
    unit: str = "",
    trace: Trace | None = None,
) -> Finding:
    return Finding(
        check=rule.split(".", 1)[0],
        rule=rule,
        outcome=outcome,
        says=says,
        measured=measured,
        limit=limit,
        unit=unit,
        trace=str(trace) if trace else "",
        do=do,
    )


def judge_job(case: Case, counted: Standing) -> Iterator[Finding]:
    """Answer what holds for every job but its names, for which rules are asked."""
    yield from _readable(counted)
    yield from _kind(counted)
    yield from _own_readings(case, counted)
    yield from _agreement(case, counted)
    yield from _completeness(case, counted)


def judge_file(case: Case) -> Iterator[Finding]:
    """Answer what holds for the newest sheet whatever it is about: it can be read, and is new."""
    newest = case.newest
    found = [_unusable(problem) for problem in (newest.sheet.problems if newest.sheet else ())]
    if newest.sheet is None:
        found.append(_unreadable(newest))
    yield from found or [_found(READABLE, Outcome.PASS, "every line of the sheet could be read")]
    yield from _own_readings(case, Standing((), ()))


def judge_names(error: UnknownNameError | None, customer: str = "") -> Iterator[Finding]:
    """Say whether workflow and customer are known, and name the nearest known ones.

    Parameters
    ----------
    customer : the known one; empty where the sheet names none
    """
    if error is None:
        both, one = "workflow and customer are known", "the workflow is known; no customer is named"
        yield _found(NAMES, Outcome.PASS, both if customer else one)
    elif not error.name:
        says = f"neither the drop folder nor the sheet names a {error.kind}"
        yield _found(NAMES, Outcome.HOLD, says, do=(MOVE_SHEET,))
    else:
        near = did_you_mean(error.name, error.known)
        says = f"no {error.kind} is called {quoted(error.name)}; {near}"
        yield _found(NAMES, Outcome.HOLD, says, measured=plain(error.name), do=(ASK_NAME,))


def _owners(counted: Standing) -> list[JobSheet]:
    """Return the sheets whose negatives count, each once."""
    return list({id(owner): owner for owner, _ in counted.negatives}.values())


def _readable(counted: Standing) -> Iterator[Finding]:
    found = [_unreadable(sheet) for sheet in counted.unreadable]
    found += [
        _unusable(problem)
        for owner in _owners(counted)
        if owner.sheet
        for problem in owner.sheet.problems
    ]
    if not (found or counted.negatives or counted.other_kinds):
        found.append(_found(READABLE, Outcome.HOLD, "no sheet counts", do=(EXPORT_AGAIN,)))
    yield from found or [_found(READABLE, Outcome.PASS, "every line of the sheet could be read")]


def _unreadable(sheet: JobSheet) -> Finding:
    problem = sheet.unreadable
    reason = problem.says if problem else "there is no negative in it"
    says = f"{plain(sheet.name)} cannot be read: {reason}"
    steps = (_as_step(problem.do), EXPORT_AGAIN) if problem and problem.do else (EXPORT_AGAIN,)
    return _found(READABLE, Outcome.HOLD, says, do=steps, trace=problem.trace if problem else None)


def _unusable(problem: Problem) -> Finding:
    steps = (_as_step(problem.do), CHECK_SHEET) if problem.do else (CHECK_SHEET,)
    return _found(READABLE, Outcome.HOLD, problem.says, do=steps, trace=problem.trace)


def _as_step(do: str) -> Step:
    return Step(CHECK_SHEET.order, do[:1].upper() + do[1:] + ("" if do.endswith(".") else "."))


def _kind(counted: Standing) -> Iterator[Finding]:
    for sheet in counted.other_kinds:
        kind = sheet.sheet.kind.value if sheet.sheet else ""
        says = (
            f"{plain(sheet.name)} is a {kind} sheet: it says nothing about a negative, "
            "so no plate may rest on it"
        )
        yield _found(KIND, Outcome.HOLD, says, measured=kind, do=(CHECK_SHEET, MEASURE_AGAIN))
    if not counted.other_kinds:
        yield _found(KIND, Outcome.PASS, "a sheet of a negative")


def _own_readings(case: Case, counted: Standing) -> Iterator[Finding]:
    # A copied sheet goes on counting when another one brings the job back, so all of them answer.
    used_for = dict.fromkeys(owner.used_for for owner in _owners(counted) if owner.used_for)
    if case.used_for:
        used_for[case.used_for] = None
    for job in used_for:
        says = f"the same file was already used for job {quoted(job)}"
        yield _found(OWN, Outcome.HOLD, says, do=(CHECK_SHEET, MEASURE_AGAIN))
    if used_for:
        return
    yield _found(OWN, Outcome.PASS, "no other job was judged by this file")
    if any(sheet.sha256 == case.newest.sha256 for sheet in case.sheets[:-1]):
        yield _found("sheet.again", Outcome.NOTE, "the same bytes as an earlier sheet of this job")


def _agreement(case: Case, counted: Standing) -> Iterator[Finding]:
    negatives = [negative for _, negative in counted.negatives]
    troubles = [*_elsewhere(case, negatives), *_different(negatives)]
    yield from troubles or [_found(AGREES, Outcome.PASS, "sheets and folder agree")]
    yield from _left_out(case, counted)


def _elsewhere(case: Case, negatives: list[Negative]) -> Iterator[Finding]:
    for negative in negatives:
        stated, job = negative.workflow, negative.job
        if stated and case.workflow and fold(stated.value) != fold(case.workflow):
            folder = quoted(case.workflow)
            says = f"the sheet says workflow {quoted(stated.value)}, its folder {folder}"
            yield _found(AGREES, Outcome.HOLD, says, trace=stated.trace, do=(RIGHT_FOLDER,))
        if job and fold(job.value) != fold(case.job):
            taken = quoted(case.job)
            says = f"the sheet says job {quoted(job.value)}, but was taken in for {taken}"
            yield _found(AGREES, Outcome.HOLD, says, trace=job.trace, do=(CHECK_SHEET,))


def _different(negatives: list[Negative]) -> Iterator[Finding]:
    for name in ("customer", "workflow"):
        stated = [value.value for negative in negatives if (value := getattr(negative, name))]
        values = {fold(value): value for value in stated}
        if len(values) > 1:
            says = f"the sheets of this job name different {name}s: {listing(values.values())}"
            yield _found(AGREES, Outcome.HOLD, says, do=(CHECK_SHEET,))


def _left_out(case: Case, counted: Standing) -> Iterator[Finding]:
    """Note what a newer sheet says less of, or otherwise, than the one whose place it takes."""
    customer = customer_before(case)
    stated = [negative.customer.value for _, negative in counted.negatives if negative.customer]
    if customer and not stated:
        says = f"the sheet names no customer; this job's earlier sheet named {quoted(customer)}"
        yield _found("job.customer", Outcome.NOTE, says)
    elif customer and fold(stated[-1]) != fold(customer):
        says = f"the customer was {quoted(customer)} before, and is {quoted(stated[-1])} now"
        yield _found("job.customer", Outcome.NOTE, says)
    for sheet, older, newer in counted.replaced:
        fewer = [
            f"{len(newer.patches_of(kind))} instead of {len(older.patches_of(kind))} {kind}"
            for kind in dict.fromkeys(patch.kind for patch in older.patches)
            if len(newer.patches_of(kind)) < len(older.patches_of(kind))
        ]
        if fewer:
            says = f"{plain(sheet.name)} has fewer patches than the sheet before: {listing(fewer)}"
            yield _found("job.fewer", Outcome.NOTE, says)
        if newer.separation_name and not older.separation_name:
            says = f"{plain(sheet.name)} stands for the earlier sheet that named no separation"
            yield _found("job.separation", Outcome.NOTE, says)


def customer_before(case: Case) -> str:
    """Return the customer that earlier sheets of the job named, empty where none did."""
    named = [
        negative.customer.value
        for sheet in case.sheets[:-1]
        for negative in sheet.negatives
        if negative.customer
    ]
    return named[-1] if named else case.before.customer


def separations_wanted(case: Case, counted: Standing) -> set[int]:
    """Return how many separations the job has by its sheets; by earlier ones if none says so now.

    A corrected sheet that leaves the number out does not make the other negatives unnecessary.
    """
    stated = {int(n.separations.value) for _, n in counted.negatives if n.separations}
    if stated:
        return stated
    earlier = [n.separations.value for s in case.sheets for n in s.negatives if n.separations]
    wanted = int(earlier[-1]) if earlier else case.before.separations
    return {wanted} if wanted else set()


def _completeness(case: Case, counted: Standing) -> Iterator[Finding]:
    names = [negative.separation_name or "unnamed" for _, negative in counted.negatives]
    stated = separations_wanted(case, counted)
    if len(stated) > 1:
        numbers = listing(map(str, sorted(stated)))
        says = f"the sheets say different numbers of separations: {numbers}"
        yield _found(COMPLETE, Outcome.HOLD, says, do=(CHECK_SHEET,))
        return
    if not stated:
        yield _found(COMPLETE, Outcome.PASS, f"{count_words(len(names), 'negative')} measured")
        return
    wanted = stated.pop()
    outcome, says, do = _measured_of(wanted, names)
    yield _found(
        COMPLETE,
        outcome,
        says,
        measured=float(len(names)),
        limit=float(wanted),
        unit="separations",
        do=do,
    )


def _measured_of(wanted: int, names: list[str]) -> tuple[Outcome, str, tuple[Step, ...]]:
    have = f"measured: {listing(names)}"
    if len(names) < wanted:
        missing = count_words(wanted - len(names), "more separation")
        return Outcome.HOLD, f"waiting for {missing} of {wanted}; {have}", (WAIT_SEPARATION,)
    if len(names) > wanted:
        says = f"the job has {wanted} separations, but {len(names)} were measured; {have}"
        return Outcome.HOLD, says, (CHECK_SHEET,)
    return Outcome.PASS, f"all {wanted} separations measured", ()
