"""What one entry of the register says of another: the second look, after every key has its type."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.wording import did_you_mean, fold, quoted
from gatekeeper.yamlfiles.fields import date_of
from gatekeeper.yamlfiles.places import FileProblem, Node, Place, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

KEYED = ("meters", "stocks", "lots", "printers")

_IN_ORDER = (
    ("made", "received"),
    ("made", "opened"),
    ("made", "expires"),
    ("received", "opened"),
)


def problems_of(files: Sequence[Table], *, is_whole: bool) -> Iterator[FileProblem]:
    """Yield what does not go together, whatever else is wrong with single entries.

    Parameters
    ----------
    is_whole : every block of every file could be told; otherwise a missing stock may stand in one
        that could not
    """
    yield from _twice(files)
    for file in files:
        for lot in _entries(file, "lots").values():
            yield from _dates_cross(lot)
    if is_whole:
        yield from _unknown(files)


def _entries(file: Table, block: str) -> dict[str, Node]:
    node = file.entries.get(block)
    return node.entries if isinstance(node, Table) else {}


def _twice(files: Sequence[Table]) -> Iterator[FileProblem]:
    seen: dict[tuple[str, str], Place] = {}
    for file in files:
        for block in KEYED:
            node = file.entries.get(block)
            for key, place in node.key_places.items() if isinstance(node, Table) else ():
                first = seen.setdefault((block, fold(key)), place)
                if first is not place:
                    what = f"{quoted(key)} stands in {block} twice, also at {first}"
                    yield FileProblem(place, "key-twice", what, "keep one of the two")


def _dates_cross(lot: Node) -> Iterator[FileProblem]:
    for earlier, later in _IN_ORDER:
        first, second = _day(lot, earlier), _day(lot, later)
        if first and second and second[0] < first[0]:
            what = f"{later} {second[0]} is before {earlier} {first[0]}"
            yield FileProblem(second[1], "dates-cross", what, "correct one of the two dates")


def _day(entry: Node, key: str) -> tuple[date, Place] | None:
    node = entry.entries.get(key) if isinstance(entry, Table) else None
    return (date_of(node.text), node.place) if isinstance(node, Scalar) else None


def _unknown(files: Sequence[Table]) -> Iterator[FileProblem]:
    """Yield stocks and printers that other entries name and none describes."""
    stocks = [name for file in files for name in _entries(file, "stocks")]
    printers = [name for file in files for name in _entries(file, "printers")]
    for file in files:
        curves = file.entries.get("curves")
        made_for = curves.items if isinstance(curves, Series) else ()
        for entry in (*_entries(file, "lots").values(), *made_for):
            yield from _unknown_name(entry, "stock", stocks)
            if printers:
                yield from _unknown_name(entry, "printer", printers)


def _unknown_name(entry: Node, key: str, known: list[str]) -> Iterator[FileProblem]:
    node = entry.entries.get(key) if isinstance(entry, Table) else None
    name = (node.text or "").strip() if isinstance(node, Scalar) else ""
    if node and name and fold(name) not in set(map(fold, known)):
        what = f"no file in register/ describes the {key} {quoted(name)}"
        yield FileProblem(node.place, f"unknown-{key}", what, did_you_mean(name, known))
