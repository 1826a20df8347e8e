"""How rules that a job was judged by differ from edited ones, and what that takes to judge anew.

Where only numbers changed, the recorded reading is compared with the new limit: the same comparison
that the check makes. Everything else needs the checks of the sections that changed, and no others:
what a check answers depends on its own section and on the few rules of `sections_of`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from gatekeeper.rules.compile import field_of
from gatekeeper.rules.difference import Said
from gatekeeper.rules.keys import Stricter

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.rules.difference import Record
    from gatekeeper.rules.effective import EffectiveRules, Limit

SLACK = 1e-9
"""As the checks have it: absorbs nothing but binary representation."""

COMPARED = frozenset(
    {
        ("solid_density", "min"),
        ("solid_density", "max"),
        ("solid_density", "spots"),
        ("solid_density", "spread"),
        ("clear_density", "max"),
        ("clear_density", "base_max"),
        ("clear_density", "spots"),
        ("density_range", "min"),
        ("tints", "tolerance"),
        ("film", "max_age_days"),
        ("film", "max_open_days"),
        ("linearization", "max_age_days"),
        ("screen", "ruling_lpi", "min"),
        ("screen", "ruling_lpi", "max"),
        ("screen", "min_grey_levels"),
        ("remeasuring", "sign_off_after"),
    }
)
"""Limits whose finding carries just the number that is compared, tints without their nominal."""


DOTS = frozenset({"tints", "dot", "tone_scale"})
"""Sections whose checks work out dots."""

GUARDED = DOTS | {"solid_density", "clear_density", "density_range", "exposure", "size"}
"""Sections whose checks can let the doubt of a reading decide."""

_MEANT_FOR = {
    "reading": DOTS,
    "dot_from": DOTS,
    "dot.spread_factor": DOTS,
    "decision.rule": GUARDED,
    "decision.guard": GUARDED,
}


def sections_of(rule: str) -> frozenset[str]:
    """Return the sections whose checks look at a rule."""
    return _MEANT_FOR.get(rule, frozenset({rule.split(".", 1)[0]}))


@dataclass(frozen=True, slots=True)
class Edit:
    """What changed for the jobs of one workflow, customer and fingerprint."""

    limits: Mapping[str, Limit] = field(default_factory=dict)  # whose number changed, by rule
    removed: frozenset[str] = frozenset()
    others: frozenset[str] = frozenset()  # new or changed in another way: the checks must judge

    @property
    def sections(self) -> frozenset[str]:
        """The sections whose checks must judge afresh."""
        return frozenset(section for rule in self.others for section in sections_of(rule))

    @property
    def is_nothing(self) -> bool:
        """Whether the rules are the same."""
        return not (self.limits or self.removed or self.others)


def edit_of(before: Record, after: EffectiveRules) -> Edit:
    """Return what changed from recorded rules to these."""
    new = {limit.rule: limit for limit in after.limits}
    ways = {"reading": after.reading, "dot_from": after.dot_from}
    others = {name for name, way in ways.items() if before.rules.get(name, Said("")).value != way}
    limits: dict[str, Limit] = {}
    for rule, limit in new.items():
        old = before.rules.get(rule)
        if old is not None and old.value == str(limit):
            continue
        if old is not None and is_compared(limit):
            limits[rule] = limit
        else:
            others.add(rule)
    removed = frozenset(before.rules.keys() - new.keys() - ways.keys())
    others |= {rule for rule in removed if not _is_missed_by_nobody(rule, after)}
    if _is_guarded(before, after):
        others |= limits.keys()
        limits = {}
    return Edit(limits, removed, frozenset(others))


def _is_missed_by_nobody(rule: str, after: EffectiveRules) -> bool:
    """Whether a limit that is gone takes nothing with it but its own answer.

    A setting said how others are judged, and where a section asks nothing any more its check does
    not look at the register either.
    """
    path = path_of(rule)
    return is_compared_path(path) and bool(after.under(path[0]))


def _is_guarded(before: Record, after: EffectiveRules) -> bool:
    """Whether the doubt of a reading takes part in the comparison."""
    old = before.rules.get("decision.rule")
    return after.is_guarded or bool(old and old.value != "plain")


def is_compared(limit: Limit) -> bool:
    """Whether the limit's finding carries just the number that is compared with it."""
    return is_compared_path(limit.path) and not limit.is_setting


def is_compared_path(path: tuple[str, ...]) -> bool:
    """Whether findings on this limit carry just the number that is compared with it."""
    return (("tints", *path[2:]) if path[0] == "tints" else path) in COMPARED


def path_of(rule: str) -> tuple[str, ...]:
    """Return the path of a rule as findings name it; the nominal of a tint may hold a point."""
    parts = tuple(rule.split("."))
    return ("tints", ".".join(parts[1:-1]), parts[-1]) if parts[0] == "tints" else parts


def keeps(path: tuple[str, ...], measured: float, limit: float) -> bool:
    """Whether a reading keeps a limit, compared as the checks compare it."""
    if path[0] == "tints":
        return abs(measured - float(path[1])) <= limit + SLACK
    return measured >= limit - SLACK if is_from_below(path) else measured <= limit + SLACK


@cache
def is_from_below(path: tuple[str, ...]) -> bool:
    """Whether readings must reach the limit; otherwise they must not pass it."""
    return field_of(path)[1] is Stricter.HIGHER
