"""Rules of other days, and what differs between two sets, for people and programs."""

from __future__ import annotations

from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING

from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date, tzinfo

    from gatekeeper.history.past import RulesInForce
    from gatekeeper.rules.difference import Change, Difference, Pair, Record, Said


def past_lines(found: RulesInForce, day: date, zone: tzinfo) -> Iterator[str]:
    """Yield rules of a day gone by, as they were recorded then."""
    filed = found.filed_at.astimezone(zone)
    shown = f"by job {plain(found.job)}, filed" if found.job else "taken up"
    yield f"as of {day}, {shown} {filed:%Y-%m-%d %H:%M}"
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
        yield from (f"  {change_line(change)}" for change in changes)
    for pairs, where in ((found.only_before, "first"), (found.only_after, "second")):
        for pair in pairs:
            yield f"{_whose(pair)}: only in the {where}"


def change_line(change: Change) -> str:
    """Return one rule that differs, with where it was set and where it is."""
    return f"{change.rule}: {_said(change.before)} -> {_said(change.after)}"


def change_data(found: Difference) -> dict[str, object]:
    """Return what differs for other programs."""
    return {
        "changes": [one_change_data(change) for change in found.changes],
        "only_before": [list(pair) for pair in found.only_before],
        "only_after": [list(pair) for pair in found.only_after],
    }


def one_change_data(change: Change) -> dict[str, object]:
    """Return one rule that differs for other programs."""
    return {
        "workflow": change.pair[0],
        "customer": change.pair[1],
        "rule": change.rule,
        "before": _said_data(change.before),
        "after": _said_data(change.after),
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
