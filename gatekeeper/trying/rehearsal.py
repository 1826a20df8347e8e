"""Edited rules on the past: which jobs would have been approved or held, and by which rule.

A limit whose number changed is compared with the reading that was recorded for it; where that is
not enough, the checks of the sections that changed judge the recorded readings. A job's own ticket
stays in force. What was found about the sheets as such, that one could not be read or a ticket was
refused, stays as it was.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.checks.job import NAMES
from gatekeeper.checks.job_ticket import RULE as TICKET_RULE
from gatekeeper.control.shares import Share, share
from gatekeeper.cycles import cycles_left_alone
from gatekeeper.history.replay import CHUNK, PastJob, Replay
from gatekeeper.trying.comparing import compare
from gatekeeper.trying.outlines import Group, Outline, group_of, outlines
from gatekeeper.trying.past_cases import PastCases
from gatekeeper.trying.registers import RegisterEdit
from gatekeeper.trying.rejudging import SECTIONS, Again, Rejudging, Room
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping
    from datetime import tzinfo

    from gatekeeper.register.register import Register
    from gatekeeper.room import Book

UNANSWERED = "unanswered"

Held = dict[int, frozenset[str]]
"""By verdict the rules that hold the job; empty where it is approved."""


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
    judged_by_checks: int  # jobs for which a comparison was not enough

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


def rehearse(
    past: Replay,
    book: Book,
    text_of: Callable[[str], str],
    zone: tzinfo,
    *,
    register: Register,
    told: Callable[[int, int | None], None] = lambda _done, _total: None,
) -> Rehearsal:
    """Judge the last verdict of every job again, under the rules of a book.

    Parameters
    ----------
    text_of : returns the recorded rules of a fingerprint, empty where there are none
    zone : of the plate room
    register : the room's own; that of the book may be an edited one
    told : called now and then with how many jobs the checks have judged, and of how many
    """
    with cycles_left_alone():
        jobs = past.jobs()
        holding = past.holding()
        before = {job.id: _held_by(job, holding.get(job.id, ())) for job in jobs}
        registers = RegisterEdit(register, book.register)
        is_register_edited = not registers.is_nothing
        plans = outlines(jobs, book.library, text_of, is_register_edited=is_register_edited)
        after, by_checks = _after(past, jobs, before, plans, Room(registers, zone), told=told)
    changed = [
        _changed(job, before[job.id], after[job.id])
        for job in jobs
        if bool(before[job.id]) is not bool(after[job.id])
    ]
    return Rehearsal(
        jobs=len(jobs),
        before=share(sum(map(bool, before.values())), len(jobs)),
        after=share(sum(map(bool, after.values())), len(jobs)),
        changed=tuple(changed),
        judged_by_checks=by_checks,
    )


def _held_by(job: PastJob, rules: Collection[str]) -> frozenset[str]:
    """Return what held a job; a job can be held because a limit was never answered."""
    is_held = job.decision == Decision.HELD.value
    return frozenset(rules or ({UNANSWERED} if is_held else ()))


def _changed(job: PastJob, before: frozenset[str], after: frozenset[str]) -> Changed:
    if after:
        return Changed(job, Decision.HELD, tuple(sorted(after)))
    return Changed(job, Decision.APPROVED, tuple(sorted(before)))


def _after(
    past: Replay,
    jobs: list[PastJob],
    before: Held,
    plans: Mapping[Group, Outline],
    room: Room,
    *,
    told: Callable[[int, int | None], None],
) -> tuple[Held, int]:
    """Return what would hold each job, and how many needed checks for that."""
    after: Held = {}
    compared = compare(past, jobs, plans)
    judges = _Judges(plans, room)
    to_check: defaultdict[frozenset[str], dict[int, Rejudging]] = defaultdict(dict)
    for job in jobs:
        group, held = group_of(job), before[job.id]
        failed = compared.get(job.id, frozenset())
        after[job.id] = _settled(plans[group], held) | (failed or frozenset())
        judge = judges.of(group, is_compared=failed is not None, is_answered=UNANSWERED not in held)
        if judge is not None and judge.looks_at:
            to_check[judge.looks_at][job.id] = judge
        elif judge is not None:  # nothing is asked any more, so nothing has to be read
            after[job.id] = _again(after[job.id], Again(judge.judged, frozenset()))
    done, total = 0, sum(map(len, to_check.values()))
    for looks_at, by_job in to_check.items():
        ids = list(by_job)
        for start in range(0, len(ids), CHUNK):
            chunk = ids[start : start + CHUNK]
            judged = {
                case.id: by_job[case.id].judge(case) for case in PastCases(past, chunk, looks_at)
            }
            for number in chunk:
                again = judged.get(number)
                after[number] = _again(after[number], again) if again else before[number]
            done += len(chunk)
            told(done, total)
    return after, total


class _Judges:
    """Who judges the jobs of each group again."""

    def __init__(self, plans: Mapping[Group, Outline], room: Room) -> None:
        self._plans = plans
        self._room = room
        self._known: dict[tuple[Group, bool, bool], Rejudging | None] = {}

    def of(self, group: Group, *, is_compared: bool, is_answered: bool) -> Rejudging | None:
        """Return who judges a job of this group, None where nothing is left to judge.

        Parameters
        ----------
        is_compared : a comparison has told which of the changed limits are kept
        is_answered : what held the job, or passed, was an answer to each of its limits
        """
        key = group, is_compared, is_answered
        if key not in self._known:
            self._known[key] = self._made(
                self._plans[group], is_compared=is_compared, is_answered=is_answered
            )
        return self._known[key]

    def _made(self, plan: Outline, *, is_compared: bool, is_answered: bool) -> Rejudging | None:
        if plan.rules is None:
            return None
        if not is_answered:
            return Rejudging(plan.rules, SECTIONS, self._room)
        if is_compared and plan.alone is not None:
            return Rejudging(plan.alone, plan.sections, self._room, only=plan.edit.others)
        sections = plan.sections if is_compared else plan.sections | plan.compared_sections
        judge = Rejudging(plan.rules, sections, self._room)
        return judge if judge.looks_at or judge.judged else None


def _settled(plan: Outline, held: frozenset[str]) -> frozenset[str]:
    """Return what holds a job as far as it is known without its readings."""
    if plan.rules is None:
        return frozenset(rule for rule in held if not _is_of_section(rule)) | {NAMES}
    if not held and not plan.is_ticket_refused:
        return held
    refused = frozenset({TICKET_RULE}) if plan.is_ticket_refused else frozenset()
    return (held - {NAMES} - plan.edit.limits.keys() - plan.edit.removed) | refused


def _is_of_section(rule: str) -> bool:
    return rule.split(".", 1)[0] in SECTIONS


def _again(held: frozenset[str], again: Again) -> frozenset[str]:
    """Return what holds a job when some of its sections, or rules, were judged once more."""
    if not held:
        return again.failing
    kept = frozenset(
        rule
        for rule in held
        if rule != UNANSWERED
        and rule not in again.judged
        and rule.split(".", 1)[0] not in again.judged
    )
    return kept | again.failing
