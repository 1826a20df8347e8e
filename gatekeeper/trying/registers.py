"""The room's own register beside an edited one: for which checks a film is told of otherwise."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from gatekeeper.register.made_for import MadeFor
from gatekeeper.rules.edits import GUARDED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules

ASKING = frozenset({"film", "linearization", "meter", "screen"})
"""Checks that ask the register, whatever the rules. Guarded decisions ask it for the doubt, too."""

_NAMES = ("meter", "film_lot", "printer", "curve")
"""What a sheet says that is looked up in the register, by the attributes of `Negative`."""


class RegisterEdit:
    """The room's own register, and the one that is tried."""

    def __init__(self, before: Register, after: Register) -> None:
        self.before = before
        self.after = after
        self._known: dict[tuple[str, ...], frozenset[str]] = {}

    def pair(self, rules: EffectiveRules) -> tuple[Register, Register]:
        """Return both as a judge under these rules heeds them.

        Where the rules compare plainly, doubt decides nothing, and working it out takes long.
        """
        return (self.before, self.after) if rules.is_guarded else self._without_doubt

    def asking(self, rules: EffectiveRules) -> frozenset[str]:
        """Return the checks that may be told something else of some film."""
        if self.is_nothing:
            return frozenset()
        return ASKING | (GUARDED if rules.is_guarded and self._changes_doubt else frozenset())

    def concerns(self, workflow: str, head: Mapping[str, Any]) -> frozenset[str]:
        """Return the checks that are told something else of the film with this head.

        Those that ask for a reading's doubt are among them, though only guarded rules heed it.
        """
        names = (workflow, *[head.get(name, "") for name in _NAMES])
        known = self._known.get(names)
        if known is None:
            known = self._known[names] = frozenset(self._concerned(*names))
        return known

    def _concerned(self, workflow: str, meter: str, lot: str, printer: str, curve: str) -> set[str]:
        old, new = (
            {
                "meter": (register.meter(meter), bool(register.meters)),
                "film": (register.lot(lot), bool(register.lots)),
                "linearization": (
                    register.printer(printer),
                    bool(register.printers),
                    _curves(register, workflow, lot, printer),
                    curve and [entry for entry in register.curves if entry.name],
                ),
                "screen": register.printer(printer),
            }
            for register in (self.before, self.after)
        )
        changed = {check for check in ASKING if old[check] != new[check]}
        return changed | (GUARDED if self._changes_doubt_of(meter) else frozenset())

    @cached_property
    def is_nothing(self) -> bool:
        """Whether both say the same."""
        return self.before == self.after

    @cached_property
    def _without_doubt(self) -> tuple[Register, Register]:
        return _without_doubt(self.before), _without_doubt(self.after)

    @cached_property
    def _changes_doubt(self) -> bool:
        return any(map(self._changes_doubt_of, {*self.before.meters, *self.after.meters}))

    def _changes_doubt_of(self, name: str) -> bool:
        old, new = self.before.meter(name), self.after.meter(name)
        return (old.uncertainty if old else None) != (new.uncertainty if new else None)


def _curves(register: Register, workflow: str, lot: str, printer: str) -> object:
    """Return what the register says of the curves for a film, None where it knows no such lot."""
    entry = register.lot(lot)
    if entry is None:
        return None
    found = register.curves_of(MadeFor(workflow, printer, entry.stock))
    return [curve for _, curve in found]


def _without_doubt(register: Register) -> Register:
    meters = {
        name: meter.model_copy(update={"uncertainty": None})
        for name, meter in register.meters.items()
    }
    return replace(register, meters=meters)
