"""Rules that nothing in the room can satisfy: a stock, resolution or meter that it does not own.

Source   a halftone cell of dpi / lpi dots a side holds (dpi / lpi)² + 1 levels, so one of two dots
         a side is the coarsest that is a screen at all: plain arithmetic.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.measures.screen import grey_levels
from gatekeeper.wording import did_you_mean, fold, listing, quoted, shortest
from gatekeeper.yamlfiles.fields import number_of
from gatekeeper.yamlfiles.places import FileProblem, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import Limit
    from gatekeeper.yamlfiles.places import Node

Path = tuple[str, ...]

DOTS_A_SIDE = 2
"""Of the smallest cell that is a screen."""


def unmet_problems(
    merged: Table, limits: Mapping[Path, Limit], register: Register
) -> Iterator[FileProblem]:
    """Yield each value that no film, printer or meter of the register answers to.

    A room that keeps no register of a kind is not asked about it.
    """
    yield from _stocks(_choices(merged, "film", "stocks"), register)
    yield from _resolutions(_choices(merged, "screen", "resolution_dpi"), register)
    yield from _filters(limits, register)
    yield from _rulings(limits, register)


def _choices(merged: Table, section: str, key: str) -> tuple[Scalar, ...]:
    block = merged.entries.get(section)
    node: Node | None = block.entries.get(key) if isinstance(block, Table) else None
    items = node.items if isinstance(node, Series) else (node,)
    return tuple(item for item in items if isinstance(item, Scalar))


def _stocks(stated: tuple[Scalar, ...], register: Register) -> Iterator[FileProblem]:
    for item in stated if register.stocks else ():
        name = (item.text or "").strip()
        if register.stock(name) is None:
            what = f"no file in register/ describes the film stock {quoted(name)}"
            do = did_you_mean(name, register.stocks)
            yield FileProblem(item.place, "unknown-stock", what, do)


def _resolutions(stated: tuple[Scalar, ...], register: Register) -> Iterator[FileProblem]:
    offered = _offered(register)
    for item in stated if offered else ():
        if number_of(item.text) not in offered:
            what = f"no printer of the register prints {item.text} dpi"
            do = f"they print {listing(map(shortest, sorted(offered)))} dpi: correct one of the two"
            yield FileProblem(item.place, "unknown-resolution", what, do)


def _filters(limits: Mapping[Path, Limit], register: Register) -> Iterator[FileProblem]:
    limit = limits.get(("meter", "filters"))
    owned = {meter.filter for meter in register.meters.values()}
    if limit is None or not owned or None in owned:
        return
    known = sorted(name for name in owned if name)
    if not {fold(word) for word in limit.words} & {fold(name) for name in known}:
        what = f"no meter of the register has one of the filters {limit}"
        do = f"they have {listing(known)}: correct one of the two"
        yield FileProblem(limit.place, "unknown-filter", what, do)


def _rulings(limits: Mapping[Path, Limit], register: Register) -> Iterator[FileProblem]:
    allowed = limits.get(("screen", "resolution_dpi"))
    resolutions = set(allowed.numbers) if allowed else _offered(register)
    if not resolutions:
        return
    dpi = max(resolutions)
    finest = limits.get(("screen", "ruling_lpi", "max"))
    if finest and finest.number * DOTS_A_SIDE > dpi:
        what = f"no printer holds a ruling of {finest}: at {shortest(dpi)} dpi a cell is one dot"
        do = f"the finest that is a screen is {shortest(dpi / DOTS_A_SIDE)} lpi"
        yield FileProblem(finest.place, "ruling-too-fine", what, do)
    coarsest = limits.get(("screen", "ruling_lpi", "min"))
    steps = limits.get(("screen", "min_grey_levels"))
    if not coarsest or not steps or coarsest.number <= 0:
        return
    levels = float(grey_levels(dpi, coarsest.number))
    if levels < steps.number:
        what = (
            f"{steps} cannot be reached: {shortest(dpi)} dpi at the coarsest ruling, "
            f"{coarsest} ({coarsest.origin}), hold {levels:.0f}"
        )
        do = "lower min_grey_levels, allow coarser rulings or a finer resolution"
        yield FileProblem(steps.place, "too-many-levels", what, do)


def _offered(register: Register) -> set[float]:
    return {dpi for printer in register.printers.values() for dpi in printer.resolution_dpi or ()}
