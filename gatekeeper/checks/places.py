"""Where on the film a patch was read, as positions from left to right.

Operators write left, centre and right, or a distance from the left edge, with or without its unit.
The two are never mixed: nobody knows how far "right" is in millimetres.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from gatekeeper.measures.screen import MM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterable

_WORDS = {"left": 0.0, "centre": 0.5, "center": 0.5, "middle": 0.5, "right": 1.0}
_MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, '"': MM_PER_INCH}
_DISTANCE = re.compile(r"(\d{1,6}(?:[.,]\d{1,6})?)\s*(mm|cm|in|\")?", re.ASCII)


def positions(places: Iterable[str]) -> list[float] | None:
    """Return a position for each place: fractions of the width for words, else distances in mm.

    None where a place is not written, is not understood, or is written in another way than the
    first: words, distances with a unit, and bare numbers are three ways.
    """
    placed = [_position(" ".join(place.casefold().split())) for place in places]
    ways = {way for way, _ in placed}
    if len(ways) != 1 or "" in ways:
        return None
    return [position for _, position in placed]


def _position(place: str) -> tuple[str, float]:
    if place in _WORDS:
        return "word", _WORDS[place]
    found = _DISTANCE.fullmatch(place)
    if found is None:
        return "", 0.0
    number = float(found[1].replace(",", "."))
    return ("unit", number * _MM[found[2]]) if found[2] else ("bare", number)
