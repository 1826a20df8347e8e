"""What will change on days to come: the blocks under `changes`, and what they make of the rules."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.rules.difference import Change, difference, read_record
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from gatekeeper.rules.library import Library


@dataclass(frozen=True, slots=True)
class Coming:
    """What a day brings to the rules of one workflow and customer."""

    day: date
    changes: tuple[Change, ...]  # against the day before
    problems: tuple[FileProblem, ...] = ()  # from this day on its jobs wait, unless mended


def coming_changes(library: Library, workflow: str, customer: str) -> Iterator[Coming]:
    """Yield each day to come on which other limits hold, the next one first.

    The workflow and the customer are known, and their rules of today are good.
    """
    before = read_record(library.effective(workflow, customer).text)
    for day in library.days_of_change(workflow, customer):
        try:
            after = read_record(library.on_day(workflow, customer, day).text)
        except BrokenFilesError as error:
            yield Coming(day, (), error.problems)
            continue
        found = difference({before.pair: before}, {after.pair: after})
        if found:
            yield Coming(day, found.changes)
        before = after
