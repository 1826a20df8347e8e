"""Site floors: what no layer may loosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.keys import Stricter
from gatekeeper.yamlfiles.places import FileProblem

if TYPE_CHECKING:
    from gatekeeper.rules.effective import Limit


def looser_than(limit: Limit, floor: Limit, stricter: Stricter) -> bool:
    """Whether a limit allows what the floor does not."""
    if stricter is Stricter.HIGHER:
        return limit.number < floor.number
    if stricter is Stricter.LOWER:
        return limit.number > floor.number
    if stricter is Stricter.SUBSET:
        return not _choices(limit) <= _choices(floor)
    if stricter is Stricter.GUARDED:
        return (floor.value, limit.value) == ("guarded", "plain")
    if stricter is Stricter.PRESENT:  # required fields have a limit each, and add up
        return not _choices(floor) <= _choices(limit)
    return limit.value != floor.value


def _choices(limit: Limit) -> set[str | float]:
    """Return what is offered, words without their case."""
    values = limit.value if isinstance(limit.value, tuple) else (limit.value,)
    return {value.casefold() if isinstance(value, str) else value for value in values}


def floor_problem(limit: Limit, floor: Limit, stricter: Stricter) -> FileProblem:
    """Return the message for a limit that is looser than the site's floor, naming both lines."""
    what = f"{limit.rule}: {limit} is looser than the site's floor {floor} ({floor.origin})"
    do = f"write {floor} or something stricter, or ask who keeps site.yaml to change the floor"
    if isinstance(limit.value, tuple):
        which = "at least" if stricter is Stricter.PRESENT else "only"
        do = f"name {which} what the floor names, or ask who keeps site.yaml to change the floor"
    return FileProblem(limit.place, "looser-than-floor", what, do)
