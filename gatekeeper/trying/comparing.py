"""Recorded readings beside limits whose number changed: the comparison that the check would make.

Pure but for the history's answers, which come in one stream.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.edits import keeps
from gatekeeper.trying.outlines import group_of
from gatekeeper.verdict import Outcome

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gatekeeper.history.replay import PastAnswer, PastJob, Replay
    from gatekeeper.rules.effective import Limit
    from gatekeeper.trying.outlines import Group, Outline


def compare(
    past: Replay, jobs: Sequence[PastJob], plans: Mapping[Group, Outline]
) -> dict[int, frozenset[str] | None]:
    """Return by verdict which changed limits would not be kept; None where that takes a check."""
    limits_of = {job.id: limits for job in jobs if (limits := plans[group_of(job)].edit.limits)}
    rules = {rule for limits in limits_of.values() for rule in limits}
    failing: dict[int, set[str] | None] = {job: set() for job in limits_of}
    for answer in past.answers(rules) if rules else ():
        limit = limits_of.get(answer.verdict, {}).get(answer.rule)
        found = failing.get(answer.verdict)
        if limit is None or found is None:
            continue
        is_kept = _is_kept(answer, limit)
        if is_kept is None:
            failing[answer.verdict] = None
        elif not is_kept:
            found.add(answer.rule)
    return {job: None if found is None else frozenset(found) for job, found in failing.items()}


def _is_kept(answer: PastAnswer, limit: Limit) -> bool | None:
    """Whether the recorded reading keeps the new limit; None where a comparison cannot tell.

    It can where it gives the recorded outcome under the recorded limit: a reading that is only a
    bound, or whose doubt counted, does not.
    """
    if answer.measured is None or answer.limit is None:
        return None if answer.outcome == Outcome.PASS.value else False
    kept = keeps(limit.path, answer.measured, answer.limit)
    if kept is not (answer.outcome == Outcome.PASS.value):
        return None
    return keeps(limit.path, answer.measured, limit.number)
