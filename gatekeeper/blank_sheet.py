"""What a workflow's rules ask to be read, as the sheet to type it into."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.readers.blank import Blank, BlankPatch
from gatekeeper.sheet import PatchKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules

_ALWAYS = ("job", "customer", "workflow", "separation", "printed", "measured", "zeroed on")
_ASKED_BY = {
    "film": ("film lot",),
    "linearization": ("printer", "film lot"),
    "meter": ("meter",),
    "screen": ("ruling", "resolution"),
}
_SPOT_PLACES = {1: ("centre",), 2: ("left", "right"), 3: ("left", "centre", "right")}


def blank_for(
    rules: EffectiveRules, register: Register, *, job: str = "", operator: str = ""
) -> Blank:
    """Return the blank sheet of a workflow: every field and patch that its rules need.

    Parameters
    ----------
    job, operator : filled in where they are known
    """
    known = {"job": job, "customer": rules.customer, "workflow": rules.workflow}
    if operator:
        known["operator"] = operator
    choices = {
        "printer": tuple(register.printers),
        "meter": tuple(register.meters),
        "film lot": tuple(register.lots),
    }
    return Blank(
        fields=tuple(dict.fromkeys(_fields(rules))),
        patches=tuple(_patches(rules)),
        known={name: value for name, value in known.items() if value},
        choices={name: entries for name, entries in choices.items() if entries},
    )


def _fields(rules: EffectiveRules) -> Iterator[str]:
    yield from _ALWAYS
    for limit in rules.under("required"):
        yield limit.path[1]
    for section, fields in _ASKED_BY.items():
        if rules.under(section):
            yield from fields


def _patches(rules: EffectiveRules) -> Iterator[BlankPatch]:
    for section, kind in (("clear_density", PatchKind.CLEAR), ("solid_density", PatchKind.SOLID)):
        limit = rules.limit(section, "spots")
        count = int(limit.number) if limit else 1
        places = _SPOT_PLACES.get(count, tuple(f"spot {n + 1}" for n in range(count)))
        yield from (BlankPatch(kind, where=place) for place in places)
    for limit in rules.under("tints"):
        yield BlankPatch(PatchKind.TINT, float(limit.path[1]), "centre")
