"""The readings of a sheet as measured: net densities, and dots where a solid allows them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from gatekeeper.checks.measured import measure
from gatekeeper.history.interface import Reading
from gatekeeper.measures.density import dot_area
from gatekeeper.sheet import Bound, PatchKind

if TYPE_CHECKING:
    from gatekeeper.checks.measured import Measured, NetPatch
    from gatekeeper.sheet import Sheet


def measured_readings(
    sheet: Sheet, *, reading: Literal["negative", "positive"] = "negative"
) -> tuple[Reading, ...]:
    """Return every patch of a sheet, in the order read, with net density and dot where known.

    Parameters
    ----------
    reading : which area prints, as the rules in force say

    Notes
    -----
    Dots are Murray-Davies over the mean of the solids, in percent, as the check of tints computes
    them; a meter that gave only a bound of a density gives none.
    """
    return tuple(
        Reading(number, entry.patch, entry.net, _dot_percent(entry, _solid(measured), reading))
        for number, measured in enumerate(map(measure, sheet.negatives))
        for entry in measured.patches
    )


def _solid(measured: Measured) -> float | None:
    nets = [
        entry.net
        for entry in measured.of(PatchKind.SOLID)
        if entry.net is not None and entry.bound is Bound.EXACT
    ]
    mean = sum(nets) / len(nets) if nets else 0.0
    return mean if mean > 0 else None


def _dot_percent(
    entry: NetPatch, solid: float | None, reading: Literal["negative", "positive"]
) -> float | None:
    is_computable = entry.patch.kind is PatchKind.TINT and entry.bound is Bound.EXACT
    if not is_computable or entry.net is None or solid is None:
        return None
    return 100.0 * float(dot_area(entry.net, solid, reading=reading))
