"""Limits that hold from a date or until one: the blocks under `changes`.

A block of limits may carry changes, each with the day on which it begins, the last day on which it
holds, or both. On a day they are laid over the block that carries them, the latest begun last.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from gatekeeper.yamlfiles.fields import date_of
from gatekeeper.yamlfiles.places import FileProblem, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Iterator

CHANGES, FROM, UNTIL = "changes", "effective_from", "until"


def changes_of(block: Table) -> tuple[Table, ...]:
    """Return the blocks under `changes`."""
    node = block.entries.get(CHANGES)
    items = node.items if isinstance(node, Series) else ()
    return tuple(item for item in items if isinstance(item, Table))


def in_force(block: Table, day: date) -> list[Table]:
    """Return the block and, in the order they are laid over it, its changes that hold on a day."""
    held = [change for change in changes_of(block) if _holds(change, day)]
    return [block, *sorted(held, key=lambda change: _day(change, FROM) or date.min)]


def _holds(change: Table, day: date) -> bool:
    return (_day(change, FROM) or date.min) <= day <= (_day(change, UNTIL) or date.max)


def days_of_change(block: Table) -> set[date]:
    """Return each day on which other limits begin to hold."""
    found: set[date] = set()
    for change in changes_of(block):
        begins, ends = _day(change, FROM), _day(change, UNTIL)
        found |= {begins} if begins else set()
        found |= {ends + timedelta(days=1)} if ends and ends < date.max else set()
    return found


def change_problems(block: Table) -> Iterator[FileProblem]:
    """Yield changes without a date, without a limit, or whose dates are the wrong way round."""
    for change in changes_of(block):
        keys = set(change.entries)
        if not keys & {FROM, UNTIL}:
            what = "a change has no date, so nobody knows when it holds"
            yield FileProblem(change.place, "no-date", what, f"add {FROM}: or {UNTIL}:")
        if not keys - {FROM, UNTIL}:
            what = "a change has dates and no limit"
            yield FileProblem(change.place, "no-limit", what, "add the limits that change")
        begins, ends = _day(change, FROM), _day(change, UNTIL)
        if begins and ends and ends < begins:
            what = f"{UNTIL} {ends} is before {FROM} {begins}"
            place = change.entries[UNTIL].place
            yield FileProblem(place, "dates-cross", what, "correct one of the two dates")


def _day(change: Table, key: str) -> date | None:
    """Return the date of a key; None where there is none that can be read."""
    node = change.entries.get(key)
    try:
        return date_of(node.text) if isinstance(node, Scalar) else None
    except ValueError:
        return None
