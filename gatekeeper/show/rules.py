"""Rules for people: what is in force and from where, what is broken and who waits for it."""

from __future__ import annotations

from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING

from gatekeeper.wording import counted, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date, tzinfo

    from gatekeeper.history.past import RulesInForce
    from gatekeeper.rules.difference import Difference, Pair, Record, Said
    from gatekeeper.rules.effective import EffectiveRules, Limit
    from gatekeeper.yamlfiles.places import FileProblem

WIDEST_VALUE = 36


def problem_lines(problems: Sequence[FileProblem], waits: Sequence[str]) -> Iterator[str]:
    """Yield each problem with its line and a mark, then who waits until it is mended."""
    for problem in problems:
        yield f"{problem}\n"
    yield f"{counted(len(problems), 'problem')}; until mended these wait in the drop folder:"
    for jobs in waits:
        yield f"  {jobs}"


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
    }


def rule_lines(rules: EffectiveRules) -> Iterator[str]:
    """Yield the limits in force, one a line, each with its origin."""
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
    yield f"fingerprint {rules.fingerprint}"


def rule_data(rules: EffectiveRules) -> dict[str, object]:
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
    }


def past_lines(found: RulesInForce, day: date, zone: tzinfo) -> Iterator[str]:
    """Yield rules of a day gone by, as they were recorded then."""
    filed = found.filed_at.astimezone(zone)
    yield f"as of {day}, by job {plain(found.job)}, filed {filed:%Y-%m-%d %H:%M}"
    yield ""
    yield from found.rules.text.splitlines()
    yield ""
    yield f"fingerprint {found.rules.fingerprint}"


def past_data(found: RulesInForce, record: Record) -> dict[str, object]:
    """Return the same for other programs."""
    return {
        "workflow": record.pair[0],
        "customer": record.pair[1],
        "fingerprint": found.rules.fingerprint,
        "job": found.job,
        "filed": found.filed_at.isoformat(),
        "first_seen": found.rules.first_seen.isoformat(),
        "rules": [
            {"rule": rule, "value": said.value, "origin": said.origin, "layer": said.layer}
            for rule, said in record.rules.items()
        ],
    }


def change_lines(found: Difference) -> Iterator[str]:
    """Yield what differs, workflow by workflow."""
    for pair, changes in groupby(found.changes, key=attrgetter("pair")):
        yield _whose(pair)
        for change in changes:
            yield f"  {change.rule}: {_said(change.before)} -> {_said(change.after)}"
    for pairs, where in ((found.only_before, "first"), (found.only_after, "second")):
        for pair in pairs:
            yield f"{_whose(pair)}: only in the {where}"


def change_data(found: Difference) -> dict[str, object]:
    """Return what differs for other programs."""
    return {
        "changes": [
            {
                "workflow": change.pair[0],
                "customer": change.pair[1],
                "rule": change.rule,
                "before": _said_data(change.before),
                "after": _said_data(change.after),
            }
            for change in found.changes
        ],
        "only_before": [list(pair) for pair in found.only_before],
        "only_after": [list(pair) for pair in found.only_after],
    }


def _whose(pair: Pair) -> str:
    workflow, customer = pair
    return plain(workflow) + (f", for {plain(customer)}" if customer else "")


def _said(said: Said | None) -> str:
    if said is None:
        return "nothing"
    return plain(said.value, 200) + (f" ({said.origin})" if said.origin else "")


def _said_data(said: Said | None) -> dict[str, str] | None:
    return {"value": said.value, "origin": said.origin} if said else None


def _limit_data(limit: Limit) -> dict[str, object]:
    return {
        "rule": limit.rule,
        "value": limit.value,
        "unit": limit.unit,
        "origin": limit.origin,
        "layer": limit.layer,
    }
