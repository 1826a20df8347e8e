"""Another room as far as a shared history knows it: stocks of its lots, limits of its rules.

Its register lies in that room alone. So a change of lot begins a new segment, but a new curve or a
new head cannot: what they move shows as a step of the level.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.control.series import Setup
from gatekeeper.control.surroundings import tolerance_by
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from gatekeeper.control.series import Polarity, Quantity, Tolerance
    from gatekeeper.register.made_for import MadeFor
    from gatekeeper.rules.difference import Record


@dataclass(frozen=True, slots=True)
class RecordedSurroundings:
    """What the records of a room's verdicts say of it.

    Attributes
    ----------
    stocks : by folded lot, as its checks of the film found them
    rules : by workflow, those that it last asked of every customer
    """

    stocks: Mapping[str, str]
    rules: Mapping[str, Record]

    def stock(self, lot: str) -> str:
        """Return the film stock of a lot, empty for a lot that no check has found in a register."""
        return self.stocks.get(fold(lot), "")

    def polarity(self, workflow: str) -> Polarity | None:
        """Return which area prints, None for a workflow whose rules are not on record."""
        if workflow not in self.rules:
            return None
        said = self.rules[workflow].rules.get("reading")
        return "positive" if said and said.value == "positive" else "negative"

    def setup(self, _film: MadeFor, lot: str, _when: datetime) -> Setup:
        """Return what is on record of what the printer worked with: the lot."""
        return Setup("", lot, "")

    def tolerance(self, workflow: str, quantity: Quantity) -> Tolerance:
        """Return what the workflow asked of every customer."""
        record = self.rules.get(workflow)

        def number(*path: str) -> float | None:
            said = record.rules.get(".".join(path)) if record else None
            return float(said.value.split()[0]) if said else None  # a number and its unit

        return tolerance_by(number, quantity)
