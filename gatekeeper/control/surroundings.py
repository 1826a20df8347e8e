"""The room's register and rules as a series needs them: stocks, curves, heads, tolerances. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, time
from typing import TYPE_CHECKING

from gatekeeper.control.series import Setup, Tolerance
from gatekeeper.register.made_for import of_entry
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.sheet import PatchKind
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date, tzinfo

    from gatekeeper.control.series import Polarity, Quantity
    from gatekeeper.register.made_for import MadeFor
    from gatekeeper.register.models import CurveEntry
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library


@dataclass(frozen=True)
class RoomSurroundings:
    """What register and rules know.

    Attributes
    ----------
    accepted : when curves came into use, by name; a curve that is not among them counts from the
        first moment of the day that the register gives
    """

    register: Register
    library: Library
    zone: tzinfo
    accepted: Mapping[str, datetime] = field(default_factory=dict)

    def stock(self, lot: str) -> str:
        """Return the film stock of a lot, empty for a lot that nobody knows."""
        entry = self.register.lot(lot)
        return entry.stock if entry else ""

    def polarity(self, workflow: str) -> Polarity | None:
        """Return which area prints, None for a workflow that no rules describe."""
        rules = self._rules(workflow)
        if rules is None:
            return None
        return "positive" if rules.reading == "positive" else "negative"

    def setup(self, film: MadeFor, lot: str, when: datetime) -> Setup:
        """Return what the printer worked with at that moment."""
        serving = (
            (self._begins(entry), of_entry(entry).names, number)
            for number, entry in self.register.curves_of(film)
            if of_entry(entry).serves(film) and self._begins(entry) <= when
        )
        newest = max(serving, default=None)
        curve = "" if newest is None else _curve_words(self.register.curves[newest[-1]])
        return Setup(curve, lot, self._head(film.printer, when.astimezone(self.zone).date()))

    def tolerance(self, workflow: str, quantity: Quantity) -> Tolerance:
        """Return what the workflow asks of every customer; some may ask for more."""
        rules = self._rules(workflow)

        def number(*path: str) -> float | None:
            limit = rules.limit(*path) if rules else None
            return limit.number if limit else None

        return tolerance_by(number, quantity)

    def _rules(self, workflow: str) -> EffectiveRules | None:
        try:
            return self.library.effective(workflow, "")
        except (UnknownNameError, BrokenFilesError):
            return None

    def _begins(self, entry: CurveEntry) -> datetime:
        if entry.name and entry.name in self.accepted:
            return self.accepted[entry.name]
        return datetime.combine(entry.linearized, time(), self.zone)

    def _head(self, printer: str, day: date) -> str:
        entry = self.register.printer(printer)
        days = [changed for changed in (entry.head_changed if entry else ()) if changed <= day]
        return str(max(days)) if days else ""


def tolerance_by(number: Callable[..., float | None], quantity: Quantity) -> Tolerance:
    """Return what rules ask of a quantity.

    Parameters
    ----------
    number : the limit at a path of keys, None where the rules set none
    """
    if quantity.kind == PatchKind.TINT:
        allowed = number("tints", f"{quantity.nominal:g}", "tolerance")
        if allowed is None:
            return Tolerance()
        return Tolerance(quantity.nominal - allowed, quantity.nominal + allowed)
    section = "solid_density" if quantity.kind == PatchKind.SOLID else "clear_density"
    return Tolerance(number(section, "min"), number(section, "max"))


def _curve_words(entry: CurveEntry) -> str:
    """Return what tells a curve from others: its day, and its setting where it has one."""
    setting = of_entry(entry).setting
    return f"{entry.linearized} for {setting}" if setting else str(entry.linearized)
