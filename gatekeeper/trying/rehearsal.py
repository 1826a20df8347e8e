"""Edited rules on the past: which jobs would have been approved or held, and by which rule.

A limit whose number changed is compared with the reading that was recorded for it; a job that needs
more is judged by the checks themselves, from its recorded readings. What was found about the sheets
as such, that one could not be read or that a separation was missing, stays as it was.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.shares import Share, share
from gatekeeper.history.replay import CHUNK, PastAnswer, PastJob, Replay
from gatekeeper.rules.difference import Record, read_record
from gatekeeper.rules.edits import Edit, edit_of, keeps
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.trying.rejudging import judge_again
from gatekeeper.verdict import Decision, Outcome

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
    from datetime import tzinfo

    from gatekeeper.room import Book
    from gatekeeper.rules.library import Library

UNANSWERED = "unanswered"
UNKNOWN = "job.names"
"""The rule that holds a job whose workflow or customer no file defines."""


@dataclass(frozen=True, slots=True)
class Changed:
    """A job whose decision would have been another one."""

    job: PastJob
    after: Decision
    rules: tuple[str, ...]  # that would hold it, or that held it and would no longer


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What would have been under the edited rules."""

    jobs: int
    before: Share  # held, by the rules alone: a job under concession counts as held
    after: Share
    changed: tuple[Changed, ...]  # in the order in which they were filed
    judged_in_full: int  # jobs for which a comparison was not enough

    def to(self, decision: Decision) -> tuple[Changed, ...]:
        """Return the jobs that would have changed to a decision."""
        return tuple(entry for entry in self.changed if entry.after is decision)

    @property
    def by_rule(self) -> dict[str, int]:
        """How many jobs each rule would have changed, the most first."""
        counts: defaultdict[str, int] = defaultdict(int)
        for entry in self.changed:
            for rule in entry.rules:
                counts[rule] += 1
        return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def rehearse(past: Replay, book: Book, text_of: Callable[[str], str], zone: tzinfo) -> Rehearsal:
    """Judge the last verdict of every job again, under the rules of a book.

    Parameters
    ----------
    text_of : returns the recorded rules of a fingerprint, empty where there are none
    zone : of the plate room
    """
    jobs = past.jobs()
    holding = past.holding()
    edits = _edits(jobs, book.library, text_of)
    held = {job.id: _held_by(job, holding.get(job.id, ())) for job in jobs}
    after: dict[int, frozenset[str]] = {}
    in_full: list[PastJob] = []
    compared = _compare(past, [job for job in jobs if edits[_group(job)].limits], edits)
    for job in jobs:
        edit = edits[_group(job)]
        failing = compared.get(job.id, frozenset())
        if edit.others or failing is None:
            in_full.append(job)
        else:
            after[job.id] = failing | (held[job.id] - edit.limits.keys() - edit.removed)
    for start in range(0, len(in_full), CHUNK):
        after |= judge_again(past, in_full[start : start + CHUNK], book, zone)
    changed = [
        _changed(job, held[job.id], after[job.id])
        for job in jobs
        if bool(held[job.id]) is not bool(after[job.id])
    ]
    return Rehearsal(
        jobs=len(jobs),
        before=share(sum(map(bool, held.values())), len(jobs)),
        after=share(sum(map(bool, after.values())), len(jobs)),
        changed=tuple(changed),
        judged_in_full=len(in_full),
    )


def _held_by(job: PastJob, rules: Collection[str]) -> frozenset[str]:
    """Return what held a job; a job can be held because a limit was never answered."""
    is_held = job.decision == Decision.HELD.value
    return frozenset(rules or ({UNANSWERED} if is_held else ()))


def _changed(job: PastJob, before: frozenset[str], after: frozenset[str]) -> Changed:
    if after:
        return Changed(job, Decision.HELD, tuple(sorted(after)))
    return Changed(job, Decision.APPROVED, tuple(sorted(before)))


Group = tuple[str, str, str]  # workflow, customer, fingerprint


def _group(job: PastJob) -> Group:
    return job.workflow, job.customer, job.fingerprint


def _edits(
    jobs: Iterable[PastJob], library: Library, text_of: Callable[[str], str]
) -> dict[Group, Edit]:
    """Return what the edit changes for each group of jobs that had the same rules."""
    records: dict[str, Record] = {}
    edits: dict[Group, Edit] = {}
    for group in map(_group, jobs):
        if group not in edits:
            workflow, customer, fingerprint = group
            if fingerprint not in records:
                records[fingerprint] = read_record(text_of(fingerprint))
            try:
                rules = library.effective(workflow, customer)
            except UnknownNameError:
                edits[group] = Edit(others=frozenset({UNKNOWN}))
            else:
                edits[group] = edit_of(records[fingerprint], rules)
    return edits


def _compare(
    past: Replay, jobs: Sequence[PastJob], edits: Mapping[Group, Edit]
) -> dict[int, frozenset[str] | None]:
    """Return by verdict which changed limits would not be kept; None where that takes a check."""
    edit_of_job = {job.id: edits[_group(job)] for job in jobs}
    rules = {rule for edit in edit_of_job.values() for rule in edit.limits}
    failing: dict[int, set[str] | None] = {job.id: set() for job in jobs}
    for answer in past.answers(rules) if rules else ():
        edit = edit_of_job.get(answer.verdict)
        found = failing.get(answer.verdict)
        if edit is None or found is None or answer.rule not in edit.limits:
            continue
        is_kept = _is_kept(answer, edit)
        if is_kept is None:
            failing[answer.verdict] = None
        elif not is_kept:
            found.add(answer.rule)
    return {job: None if found is None else frozenset(found) for job, found in failing.items()}


def _is_kept(answer: PastAnswer, edit: Edit) -> bool | None:
    """Whether the recorded reading keeps the new limit; None where a comparison cannot tell.

    It can where it gives the recorded outcome under the recorded limit: a reading that is only a
    bound, or whose doubt counted, does not.
    """
    limit = edit.limits[answer.rule]
    if answer.measured is None or answer.limit is None:
        return None if answer.outcome == Outcome.PASS.value else False
    kept = keeps(limit.path, answer.measured, answer.limit)
    if kept is not (answer.outcome == Outcome.PASS.value):
        return None
    return keeps(limit.path, answer.measured, limit.number)
