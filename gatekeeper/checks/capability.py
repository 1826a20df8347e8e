"""Limits that are too tight for the meters of the room.

The measurement capability index sets the width of what is allowed against the doubt of a reading
(JCGM 106:2012, 7.6): at 1 the doubt fills the tolerance, so that no reading proves much; 3 and more
is comfortable. A rule below 1 is no error, but whoever keeps it should know.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.dots import PROVEN_SOLID, Scale
from gatekeeper.checks.reading import COVERAGE
from gatekeeper.measures.uncertainty import capability_index
from gatekeeper.wording import listing, shortest
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules, Limit
    from gatekeeper.rules.library import Library

LEAST = 1.0
"""Index below which a limit is too tight."""

SQRT2 = math.sqrt(2.0)


class Width(NamedTuple):
    """What a limit allows from end to end, and the standard uncertainty of what it is about."""

    width: float
    u: float


def tight_limits(library: Library, register: Register) -> tuple[FileProblem, ...]:
    """Return a warning for each limit that is too tight for a meter that may be used, by place."""
    found: dict[tuple[str, str], FileProblem] = {}
    for workflow, customer in library.pairs():
        try:
            rules = library.effective(workflow, customer)
        except BrokenFilesError:
            continue
        for limit in rules.limits:
            indices = dict(_indices(rules, limit, register))
            if indices and (limit.origin, limit.rule) not in found:
                found[limit.origin, limit.rule] = _warning(limit, indices)
    return tuple(sorted(found.values()))


def _indices(
    rules: EffectiveRules, limit: Limit, register: Register
) -> Iterator[tuple[str, float]]:
    """Yield what is too poor for the limit, meters of one uncertainty together, with the index."""
    if limit.path[0] == "size":
        yield from _too_tight("distances as they are read", _of_size(rules, limit))
        return
    for expanded, names in _meters(rules, register).items():
        meters = f"±{shortest(expanded)} ({listing(names)})"
        yield from _too_tight(meters, _of(rules, limit, expanded / COVERAGE))


def _meters(rules: EffectiveRules, register: Register) -> dict[float, list[str]]:
    """Return the meters that may be used and whose uncertainty is known, by uncertainty."""
    filters = rules.limit("meter", "filters")
    allowed = {word.casefold() for word in filters.words} if filters else set()
    found: dict[float, list[str]] = {}
    for name, meter in sorted(register.meters.items()):
        may_be_used = not filters or not meter.filter or meter.filter.casefold() in allowed
        if meter.uncertainty and may_be_used:
            found.setdefault(meter.uncertainty, []).append(name)
    return found


def _too_tight(name: str, width: Width | None) -> Iterator[tuple[str, float]]:
    if width is None or width.width <= 0 or width.u <= 0:
        return
    index = float(capability_index(width.width, width.u))
    if index < LEAST:
        yield name, index


def _of(rules: EffectiveRules, limit: Limit, u: float) -> Width | None:
    """Return width and doubt of a limit on densities or dots, None where it has one end only."""
    if limit.path[0] == "tints":
        return Width(2.0 * limit.number, _dot_u(rules, float(limit.path[1]), u))
    if limit.path == ("solid_density", "max"):
        lowest = rules.limit("solid_density", "min")
        return Width(limit.number - lowest.number, u) if lowest else None
    factor = _ONE_SIDED.get(limit.path)
    return Width(limit.number, factor * u) if factor else None


_ONE_SIDED: Mapping[tuple[str, ...], float] = {
    ("solid_density", "spread"): SQRT2,
    ("solid_density", "slope_max"): SQRT2,
    ("clear_density", "max"): 1.0,
    ("clear_density", "base_max"): 1.0,
}
"""Limits that begin at zero, and their doubt as a multiple of that of one density."""


def _dot_u(rules: EffectiveRules, percent: float, u: float) -> float:
    n = rules.number("dot", "spread_factor", default=1.0)
    solid = rules.number("solid_density", "min", default=PROVEN_SOLID)
    scale = Scale(solid, n, "negative" if rules.reading == "negative" else "positive")
    return scale.percent_u(scale.net(percent), u) or 0.0


def _of_size(rules: EffectiveRules, limit: Limit) -> Width | None:
    stated = rules.limit("size", "uncertainty_mm")
    factor = {"tolerance_mm": 1.0, "register_mm": SQRT2}.get(limit.path[-1])
    if stated is None or factor is None:
        return None
    return Width(2.0 * limit.number, factor * stated.number / COVERAGE)


def _warning(limit: Limit, indices: Mapping[str, float]) -> FileProblem:
    meters = "; ".join(f"{name} gives {index:.2f}" for name, index in indices.items())
    return FileProblem(
        limit.place,
        "tight-for-the-meter",
        f"{limit.rule} {limit} is too tight: as a capability index {meters}",
        "1 is the least and 3 is comfortable: widen the limit, or measure with less doubt",
    )
