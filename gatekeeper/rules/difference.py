"""Two sets of rules side by side, whether they stand in files or in the record of a verdict."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Pair = tuple[str, str]  # workflow, customer; the customer is empty for jobs that name none

_NO_CUSTOMER = "-"
_ORIGIN = re.compile(r"(?P<said>.*)  # (?P<origin>.+:[0-9]+) \((?P<layer>[^()]+)\)")


@dataclass(frozen=True, slots=True)
class Said:
    """One rule as the record has it."""

    value: str
    origin: str = ""  # file:line
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Record:
    """The rules of one workflow and customer as `EffectiveRules.text` writes them."""

    pair: Pair
    rules: Mapping[str, Said]


@dataclass(frozen=True, slots=True)
class Change:
    """A rule that is not the same in both; None where one of them has no such rule."""

    pair: Pair
    rule: str
    before: Said | None
    after: Said | None


@dataclass(frozen=True, slots=True)
class Difference:
    """All that is not the same."""

    changes: tuple[Change, ...]
    only_before: tuple[Pair, ...] = ()
    only_after: tuple[Pair, ...] = ()

    def __bool__(self) -> bool:
        """Whether there is any difference."""
        return bool(self.changes or self.only_before or self.only_after)


def read_record(text: str) -> Record:
    """Return the record that a text of effective rules is."""
    rules: dict[str, Said] = {}
    for line in text.splitlines():
        found = _ORIGIN.fullmatch(line)
        rule, _, value = (found["said"] if found else line).partition(": ")
        rules[rule] = Said(value, found["origin"], found["layer"]) if found else Said(value)
    workflow = rules.pop("workflow", Said("")).value
    customer = rules.pop("customer", Said(_NO_CUSTOMER)).value
    return Record((workflow, "" if customer == _NO_CUSTOMER else customer), rules)


def difference(before: Mapping[Pair, Record], after: Mapping[Pair, Record]) -> Difference:
    """Return what differs between two collections of rules, pair by pair.

    What changes for every job of a workflow is told once, not again for each customer. Two single
    records are held against each other whatever they are called.
    """
    if len(before) == len(after) == 1:
        (one,), (other,) = before.values(), after.values()
        return Difference(tuple(_changes(one, other)))
    changes: list[Change] = []
    for pair in sorted(before.keys() & after.keys()):
        for_all = {_what(change) for change in changes if change.pair == (pair[0], "")}
        found = _changes(before[pair], after[pair])
        changes += [change for change in found if not pair[1] or _what(change) not in for_all]
    return Difference(
        tuple(changes),
        only_before=tuple(sorted(before.keys() - after.keys())),
        only_after=tuple(sorted(after.keys() - before.keys())),
    )


def matched(
    before: Mapping[Pair, Record], after: Mapping[Pair, Record]
) -> tuple[Mapping[Pair, Record], Mapping[Pair, Record]]:
    """Return both; where one is a single record, of the other only that of the same names."""
    if len(before) == 1 < len(after):
        return before, {pair: after[pair] for pair in before if pair in after}
    if len(after) == 1 < len(before):
        return {pair: before[pair] for pair in after if pair in before}, after
    return before, after


def _changes(before: Record, after: Record) -> Iterator[Change]:
    for rule in [*before.rules, *(rule for rule in after.rules if rule not in before.rules)]:
        old, new = before.rules.get(rule), after.rules.get(rule)
        if (old.value if old else None) != (new.value if new else None):
            yield Change(after.pair, rule, old, new)


def _what(change: Change) -> tuple[str, str, str]:
    before = change.before.value if change.before else ""
    return change.rule, before, change.after.value if change.after else ""
