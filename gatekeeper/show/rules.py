"""Rules for people: what is in force and from where, what is broken and who waits for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.show.rule_changes import change_line, one_change_data
from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.rules.coming import Coming
    from gatekeeper.rules.effective import EffectiveRules, Limit
    from gatekeeper.yamlfiles.places import FileProblem

WIDEST_VALUE = 36


def problem_lines(
    problems: Sequence[FileProblem], waits: Sequence[str], later: Sequence[str]
) -> Iterator[str]:
    """Yield each problem with its line and a mark, then who waits until it is mended.

    Parameters
    ----------
    waits : jobs that wait now
    later : jobs that will wait from a day to come, each with its day
    """
    for problem in problems:
        yield f"{problem}\n"
    number = counted(len(problems), "problem")
    if waits or not later:
        yield f"{number}; until mended these wait in the drop folder:"
        yield from (f"  {jobs}" for jobs in waits)
    if later:
        today = "those of a day to come" if waits else f"{number}; no job waits today"
        yield f"{today}: until mended these will wait in the drop folder:"
        yield from (f"  {jobs}" for jobs in later)


def problem_data(problem: FileProblem) -> dict[str, object]:
    """Return a problem for other programs."""
    return {
        "file": problem.place.file,
        "line": problem.place.line,
        "column": problem.place.column,
        "name": problem.name,
        "what": problem.what,
        "do": problem.do,
        "text": problem.place.text,
        "begins": problem.begins.isoformat() if problem.begins else None,
    }


def rule_lines(rules: EffectiveRules, coming: Sequence[Coming] = ()) -> Iterator[str]:
    """Yield the limits in force, one a line, each with its origin; then what days to come bring."""
    whose = f", for {plain(rules.customer)}" if rules.customer else ""
    yield f"{plain(rules.workflow)} ({plain(rules.title)}){whose}"
    yield f"a {rules.reading}; dots from: {rules.dot_from}"
    yield ""
    for note in rules.notes:
        yield f"NOTE  {note}"
        yield ""
    widest = max(len(limit.rule) for limit in rules.limits)
    values = min(max(len(str(limit)) for limit in rules.limits), WIDEST_VALUE)
    for limit in rules.limits:
        origin = f"{limit.origin} ({limit.layer})"
        yield f"{limit.rule:<{widest}}  {plain(str(limit), 200):<{values}}  {origin}"
    yield ""
    for entry in coming:
        yield f"from {entry.day} on"
        yield from (f"  {line}" for line in map(change_line, entry.changes))
        for problem in entry.problems:
            yield f"  its jobs wait until this is mended: {problem.place} {problem.what}"
        yield ""
    yield f"fingerprint {rules.fingerprint}"


def rule_data(rules: EffectiveRules, coming: Sequence[Coming] = ()) -> dict[str, object]:
    """Return the rules in force for other programs."""
    return {
        "workflow": rules.workflow,
        "customer": rules.customer,
        "title": rules.title,
        "reading": rules.reading,
        "dot_from": rules.dot_from,
        "fingerprint": rules.fingerprint,
        "notes": list(rules.notes),
        "limits": [_limit_data(limit) for limit in rules.limits],
        "coming": [
            {
                "day": entry.day.isoformat(),
                "changes": [one_change_data(change) for change in entry.changes],
                "problems": [problem_data(problem) for problem in entry.problems],
            }
            for entry in coming
        ],
    }


def _limit_data(limit: Limit) -> dict[str, object]:
    return {
        "rule": limit.rule,
        "value": limit.value,
        "unit": limit.unit,
        "origin": limit.origin,
        "layer": limit.layer,
    }
