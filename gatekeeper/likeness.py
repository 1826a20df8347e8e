"""What tells one film's readings from another's: their digits, whatever file they came in.

Two films of two jobs never read alike in every digit but by chance. Where they do, a sheet was
copied, or the meter's memory was exported twice.

What counts   of each patch its kind, nominal, place and every reading, to nine significant digits:
              no meter has as many, and what converting units leaves behind lies beyond them. Not
              the order of the rows, not how a number is spelt (`2,90` is `2.9`), not the head.
What tells    a patch other than clear film, read exactly and not just as its nominal, each once: a
              meter zeroed on clear film reads nothing there, film beyond the meter's range always
              reads the range, a distance read with a rule is often the one asked for, and where
              two spots of a film agree that is no further witness.

Chance        the readings of a film are taken as normal with covariance S from film to film, in
              steps h. The difference of two films then has the covariance 2 S, and its density at
              zero, times h for each of n readings, is the chance that they agree:

                  h1 h2 … hn / ((4 pi)^(n/2) sqrt(det S))

              Solids that differ by 0.04 from film to film and by 0.02 within one, read to 0.01,
              agree in all three places once in 1,300 pairs of films; with a 50 % dot, read to
              0.1 % and spread by 0.6 %, once in 27,000; with one mark distance more, read to 0.01
              mm and spread by 0.1 mm, once in a million. A room of 40 films a day has 400 from the
              ten working days of two weeks to compare each with. By chance it would hold a sound
              job over three solids and a tint almost every second day; over those and a distance
              every 60 working days; over two such distances every 2,200, which is nine years.
Source        common practice for the spreads; the formula is the normal density at zero.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.sheet import Bound, PatchKind
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from gatekeeper.sheet import Negative, Number, Patch

FEWEST = 4
"""Fewer patches that tell are compared with no other job: where only three solids are read, every
third job would agree with one of 400 films by chance."""

_DIGITS = 9
_SIGNS = {Bound.EXACT: "", Bound.AT_LEAST: ">", Bound.AT_MOST: "<"}


@dataclass(frozen=True, slots=True)
class Digits:
    """The digits of a film's readings.

    Attributes
    ----------
    sha256 : equal for films that read alike in every digit; empty where nothing was read that tells
    telling : how many patches tell one film from another
    """

    sha256: str
    telling: int


def digits_of(negative: Negative) -> Digits:
    """Return what the readings of a film can be recognised by, in whatever file they come."""
    rows: list[tuple[str, ...]] = []
    telling: set[tuple[str, ...]] = set()
    for patch in negative.patches:
        kind, nominal = patch.kind.value, _written(patch.nominal)
        readings = tuple(map(_written, _numbers(patch)))
        rows.append((kind, nominal, _place(patch), *readings))
        if _tells(patch):
            telling.add((kind, nominal, *readings))
    if not telling:
        return Digits("", 0)
    content = "\n".join("|".join(row) for row in sorted(rows))
    return Digits(hashlib.sha256(content.encode()).hexdigest(), len(telling))


def _place(patch: Patch) -> str:
    # A place may hold any sign but these two, so that no two rows can be written alike.
    return fold(patch.where).replace("|", " ").replace("\n", " ") if patch.where else ""


def _tells(patch: Patch) -> bool:
    if patch.kind is PatchKind.CLEAR:
        return False
    exact = [number for number in _numbers(patch) if number and number.bound is Bound.EXACT]
    is_nominal = all(patch.nominal and number.value == patch.nominal.value for number in exact)
    return bool(exact) and not is_nominal


def _numbers(patch: Patch) -> tuple[Number | None, ...]:
    return (patch.density, patch.dot_percent, patch.transmittance_percent, patch.length_mm)


def _written(number: Number | None) -> str:
    if number is None:
        return ""
    return f"{_SIGNS[number.bound]}{number.value + 0.0:.{_DIGITS}g}"  # adding 0 makes -0 a 0
