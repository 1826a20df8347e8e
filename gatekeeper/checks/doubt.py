"""How well a negative's numbers are known, from the uncertainty of its meter.

Units    standard uncertainties (k = 1) in density; the register states expanded ones (k = 2).
Source   JCGM 100:2008, 5.1.2: independent contributions add in squares. What a meter's errors have
         in common cancels in differences, so these are on the safe side.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from gatekeeper.checks.measured import Zero
from gatekeeper.checks.reading import COVERAGE
from gatekeeper.measures.uncertainty import combined_uncertainty
from gatekeeper.sheet import Bound, PatchKind

if TYPE_CHECKING:
    from gatekeeper.checks.interface import Subject


def density_u(subject: Subject) -> float | None:
    """Return the standard uncertainty of one density, None where the register knows none."""
    named = subject.negative.meter
    entry = subject.register.meter(named.value) if named else None
    if entry is None or entry.uncertainty is None:
        return None
    return entry.uncertainty / COVERAGE


def net_u(subject: Subject) -> float | None:
    """Return the standard uncertainty of a net density.

    Zeroed on clear film, the meter shows it in one reading; zeroed on air, it is a reading less the
    mean of the clear patches.
    """
    u = density_u(subject)
    if u is None or subject.measured.zero is not Zero.AIR:
        return u
    clear = [spot for spot in subject.measured.of(PatchKind.CLEAR) if spot.bound is Bound.EXACT]
    return combined_uncertainty([u, u / math.sqrt(len(clear))])


def difference_u(subject: Subject) -> float | None:
    """Return the standard uncertainty of the difference between two densities of one film."""
    u = density_u(subject)
    return None if u is None else _of_two(u)


@lru_cache(64)
def _of_two(u: float) -> float:
    return combined_uncertainty([u, u])
