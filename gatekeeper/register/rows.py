"""Rows of the register's lists: what the room owns, and what of it runs out. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date


@dataclass(frozen=True, slots=True)
class Row:
    """One entry of the register."""

    name: str
    fields: dict[str, object]
    left_m: float | None = None  # of a film lot whose length is known
    films: int | None = None  # negatives measured on it

    def as_data(self) -> dict[str, object]:
        """Return the row for other programs."""
        found: dict[str, object] = {"name": self.name, **self.fields}
        if self.left_m is not None:
            found |= {"films": self.films, "length_left_m": self.left_m}
        return found


@dataclass(frozen=True, slots=True)
class DueRow:
    """Something that runs out."""

    subject: str
    last_day: date
    days_left: int
    says: str
    do: str
    workflows: tuple[str, ...]

    def as_data(self) -> dict[str, object]:
        """Return the row for other programs."""
        return {
            "subject": self.subject,
            "last_day": self.last_day.isoformat(),
            "days_left": self.days_left,
            "what": self.says,
            "do": self.do,
            "workflows": list(self.workflows),
        }
