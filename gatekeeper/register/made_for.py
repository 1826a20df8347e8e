"""What a curve is made for: workflow, printer, film stock, resolution and ruling.

Rule     a curve whose line names a resolution or a ruling serves that one alone; a line that
         leaves one out stands for all of them. Of several that serve, the newest is in use, on one
         day the one that names more, and of two alike the one that was entered later. A sheet that
         does not say its resolution or ruling is served by lines alone that leave it out: which of
         the others it was printed through would be a guess.
Source   common practice; the ruling moves the tone more than most changes of a printer do.
Pure     no file, no clock.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from gatekeeper.wording import fold, shortest

if TYPE_CHECKING:
    from gatekeeper.register.models import CurveEntry
    from gatekeeper.sheet import Negative

ALIKE: Final = 0.005
"""Share by which two figures for one ruling may differ: 26 lines a centimetre are 66.04 lpi, and
people write 66. No room uses two rulings or resolutions so near to each other."""


class MadeFor(NamedTuple):
    """Where a curve belongs, or a film; None where a line stands for all, or a sheet is silent."""

    workflow: str
    printer: str
    stock: str
    resolution_dpi: float | None = None
    ruling_lpi: float | None = None

    @property
    def route(self) -> tuple[str, str, str]:
        """Workflow, printer and film stock as they are compared."""
        return _route(self.workflow, self.printer, self.stock)

    @property
    def setting(self) -> str:
        """Ruling and resolution in words, empty where neither is said: 65 lpi at 1440 dpi."""
        ruling = "" if self.ruling_lpi is None else f"{_short(self.ruling_lpi)} lpi"
        resolution = "" if self.resolution_dpi is None else f"{_short(self.resolution_dpi)} dpi"
        return " at ".join(part for part in (ruling, resolution) if part)

    @property
    def missing(self) -> str:
        """What of ruling and resolution is not said, in words."""
        parts = (("ruling", self.ruling_lpi), ("resolution", self.resolution_dpi))
        return " and ".join(name for name, value in parts if value is None)

    @property
    def names(self) -> int:
        """How many of resolution and ruling it names."""
        return (self.resolution_dpi is not None) + (self.ruling_lpi is not None)

    def serves(self, film: MadeFor) -> bool:
        """Whether a curve that is made for this serves that film."""
        return (
            self.route == film.route
            and _serves(self.resolution_dpi, film.resolution_dpi)
            and _serves(self.ruling_lpi, film.ruling_lpi)
        )

    def is_same(self, other: MadeFor) -> bool:
        """Whether two curves are made for the same."""
        return self.serves(other) and other.serves(self)


@lru_cache(512)  # each curve of the register is held beside every film
def _route(workflow: str, printer: str, stock: str) -> tuple[str, str, str]:
    return fold(workflow), fold(printer), fold(stock)


def of_entry(entry: CurveEntry) -> MadeFor:
    """Return what a line of the register is made for."""
    return MadeFor(
        entry.workflow, entry.printer, entry.stock, entry.resolution_dpi, entry.ruling_lpi
    )


def of_negative(negative: Negative, workflow: str, stock: str) -> MadeFor:
    """Return where a film belongs, by its sheet."""
    return MadeFor(
        workflow,
        negative.printer.value if negative.printer else "",
        stock,
        negative.resolution_dpi.value if negative.resolution_dpi else None,
        negative.ruling_lpi.value if negative.ruling_lpi else None,
    )


def _serves(named: float | None, wanted: float | None) -> bool:
    return named is None or (wanted is not None and math.isclose(named, wanted, rel_tol=ALIKE))


def _short(value: float) -> str:
    return shortest(round(value, 2))
