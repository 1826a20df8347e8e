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
from gatekeeper.history.replay import CHUNK, PastJob, Replay
from gatekeeper.trying.comparing import compare
from gatekeeper.trying.outlines import Group, Outline, group_of, outlines
from gatekeeper.trying.rejudging import SECTIONS, Room, failing
from gatekeeper.verdict import Decision

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping
    from datetime import tzinfo

    from gatekeeper.room import Book
    from gatekeeper.rules.effective import EffectiveRules

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
    afresh: bool = False,
    told: Callable[[int, int | None], None] = lambda _done, _total: None,
) -> Rehearsal:
    """Judge the last verdict of every job again, under the rules of a book.

    Parameters
    ----------
    text_of : returns the recorded rules of a fingerprint, empty where there are none
    zone : of the plate room
    afresh : every check judges every job, as it must where the register was edited, too
    told : called now and then with how many jobs the checks have judged, and of how many
    """
    jobs = past.jobs()
    holding = past.holding()
    before = {job.id: _held_by(job, holding.get(job.id, ())) for job in jobs}
    plans = outlines(jobs, book.library, text_of, afresh=afresh)
    after, by_checks = _after(past, jobs, before, plans, Room(book.register, zone), told=told)
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
    to_check: defaultdict[tuple[frozenset[str], bool], list[PastJob]] = defaultdict(list)
    for job in jobs:
        plan = plans[group_of(job)]
        failed = compared.get(job.id, frozenset())
        is_alone = plan.alone is not None and failed is not None
        sections = plan.sections if failed is not None else plan.sections | plan.compared_sections
        if UNANSWERED in before[job.id]:
            sections, is_alone = SECTIONS, False
        after[job.id] = _settled(plan, before[job.id]) | (failed or frozenset())
        if plan.rules and sections:
            to_check[sections, is_alone].append(job)
    done, total = 0, sum(map(len, to_check.values()))
    for (sections, is_alone), group in to_check.items():
        for start in range(0, len(group), CHUNK):
            chunk = group[start : start + CHUNK]
            rules_of = {job.id: _asked(plans[group_of(job)], is_alone=is_alone) for job in chunk}
            found = failing(past, chunk, rules_of, sections, room)
            for job in chunk:
                again = plans[group_of(job)].edit.others if is_alone else sections
                kept = _kept(after[job.id], again)
                after[job.id] = kept | found[job.id] if job.id in found else before[job.id]
            done += len(chunk)
            told(done, total)
    return after, total


def _asked(plan: Outline, *, is_alone: bool) -> EffectiveRules:
    rules = plan.alone if is_alone else plan.rules
    if rules is None:
        raise TypeError(plan)
    return rules


def _settled(plan: Outline, held: frozenset[str]) -> frozenset[str]:
    """Return what holds a job as far as it is known without its readings."""
    if plan.rules is None:
        return frozenset(rule for rule in held if not _is_of_section(rule)) | {NAMES}
    refused = frozenset({TICKET_RULE}) if plan.is_ticket_refused else frozenset()
    return (held - {NAMES} - plan.edit.limits.keys() - plan.edit.removed) | refused


def _is_of_section(rule: str) -> bool:
    return rule.split(".", 1)[0] in SECTIONS


def _kept(held: frozenset[str], again: frozenset[str]) -> frozenset[str]:
    """Return what goes on holding a job beside the rules, or sections, that were judged again."""
    return frozenset(
        rule
        for rule in held
        if rule != UNANSWERED and rule not in again and rule.split(".", 1)[0] not in again
    )
