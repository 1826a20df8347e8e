"""The rules that hold for a workflow and customer: every limit with value, unit and origin."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.rules.merge import LAYERS, TICKET
from gatekeeper.verdict import Requirement
from gatekeeper.wording import shortest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gatekeeper.yamlfiles.places import Place

Value = float | str | tuple[str, ...] | tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in force."""

    path: tuple[str, ...]  # ("solid_density", "min"), ("tints", "50", "tolerance")
    value: Value
    unit: str
    place: Place
    layer: str  # "built in", "site floor", "workflow", "customer", "ticket"
    is_setting: bool = False  # says how to judge; no finding has to answer it
    rule: str = field(init=False, repr=False, compare=False)  # the path as findings write it
    origin: str = field(init=False, repr=False, compare=False)  # file:line

    def __post_init__(self) -> None:
        """Write path and place once; the findings of every job name them."""
        object.__setattr__(self, "rule", ".".join(self.path))
        object.__setattr__(self, "origin", str(self.place))

    @property
    def layer_rank(self) -> int:
        """Place of the layer in the order in which they are laid: the later one counts."""
        return LAYERS.index(self.layer)

    @property
    def number(self) -> float:
        """The value of a numeric limit."""
        if not isinstance(self.value, float):
            raise TypeError(self.rule)
        return self.value

    @property
    def words(self) -> tuple[str, ...]:
        """The value of a limit that is a list of words."""
        if not isinstance(self.value, tuple):
            raise TypeError(self.rule)
        return tuple(shortest(item) if isinstance(item, float) else item for item in self.value)

    @property
    def numbers(self) -> tuple[float, ...]:
        """The value of a limit that is a list of numbers."""
        if not isinstance(self.value, tuple):
            raise TypeError(self.rule)
        return tuple(item for item in self.value if isinstance(item, float))

    @override
    def __str__(self) -> str:
        """Return value and unit for people."""
        if isinstance(self.value, tuple):
            return ", ".join(self.words) + (f" {self.unit}" if self.unit else "")
        value = shortest(self.value) if isinstance(self.value, float) else self.value
        return f"{value} {self.unit}".rstrip()


@dataclass(frozen=True)
class EffectiveRules:
    """Immutable and complete: judging needs nothing else of the site's rule files."""

    workflow: str
    customer: str
    title: str
    reading: str  # "negative" or "positive"
    dot_from: str  # "either", "densities" or "meter"
    limits: tuple[Limit, ...]
    notes: tuple[str, ...] = ()  # "last good rules in force because …"
    _by_path: dict[tuple[str, ...], Limit] = field(init=False, repr=False, compare=False)
    _answered: dict[str, tuple[Limit, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Index the limits once; they are looked up for every job."""
        object.__setattr__(self, "_by_path", {limit.path: limit for limit in self.limits})
        answered: dict[str, tuple[Limit, ...]] = {}
        for limit in self.limits:
            if not limit.is_setting:
                section = limit.path[0]
                answered[section] = (*answered.get(section, ()), limit)
        object.__setattr__(self, "_answered", answered)

    def limit(self, *path: str) -> Limit | None:
        """Return the limit at this path, or None where no layer sets one."""
        return self._by_path.get(path)

    def under(self, section: str) -> tuple[Limit, ...]:
        """Return the limits of a section that must be answered, in order."""
        return self._answered.get(section, ())

    @property
    def is_guarded(self) -> bool:
        """Whether a part of each reading's doubt is taken off its limits."""
        rule = self.limit("decision", "rule")
        return rule is not None and rule.value == "guarded"

    @property
    def from_ticket(self) -> tuple[Limit, ...]:
        """The limits that hold for one job only."""
        return tuple(limit for limit in self.limits if limit.layer == TICKET)

    def number(self, *path: str, default: float) -> float:
        """Return the number at this path, or the default where no layer sets one."""
        found = self.limit(*path)
        return found.number if found else default

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 over what the rules say, not where they say it: a comment changes nothing."""
        facts: dict[str, object] = {
            "workflow": self.workflow,
            "customer": self.customer,
            "reading": self.reading,
            "dot_from": self.dot_from,
            "limits": sorted((limit.rule, limit.value) for limit in self.limits),
        }
        if self.from_ticket:  # rules of one job are never taken for those of all others
            facts["ticket"] = sorted(limit.rule for limit in self.from_ticket)
        canonical = json.dumps(facts, sort_keys=True, ensure_ascii=True, default=list)
        return hashlib.sha256(canonical.encode()).hexdigest()

    @cached_property
    def text(self) -> str:
        """The rules as a readable record for audits, one limit a line with its origin."""
        lines = [
            f"workflow: {self.workflow}",
            f"customer: {self.customer or '-'}",
            f"reading: {self.reading}",
            f"dot_from: {self.dot_from}",
        ]
        lines += [
            f"{limit.rule}: {limit}  # {limit.origin} ({limit.layer})" for limit in self.limits
        ]
        return "\n".join(lines) + "\n"

    def requirements(self, separations: Iterable[str]) -> tuple[Requirement, ...]:
        """Return every limit that a passing finding must answer, for each negative of the job."""
        return tuple(
            Requirement(limit.rule, separation)
            for separation in separations
            for limit in self.limits
            if not limit.is_setting
        )
