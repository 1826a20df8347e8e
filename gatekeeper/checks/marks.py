"""Distances between marks: what each should read on film, and what it reads.

A plate's face stretches when it is bent round the cylinder, so the film is made shorter *around*
and never *across*: length (1 - K / repeat), K = 2 pi (plate - base). An entered shrink and the
film's own growth with the climate of the room come on top, both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.checks.compare import SLACK
from gatekeeper.measures.distortion import distorted_length, film_growth, k_factor, shrunk_length
from gatekeeper.measures.errors import MeasureError
from gatekeeper.sheet import PatchKind
from gatekeeper.wording import shortest

if TYPE_CHECKING:
    from gatekeeper.checks.interface import Subject
    from gatekeeper.sheet import Negative, Number, Patch

AROUND, ACROSS = "around", "across"

PER_PPM = 1e-6

_FROM_RULES = {
    "plate thickness": ("plate_thickness_mm", "mm"),
    "plate base": ("plate_base_mm", "mm"),
    "repeat": ("repeat_mm", "mm"),
    "shrink": ("shrink_percent", "%"),
}
"""What sheet and rules may both say, by the sheet's name of it: the key of both, and its unit."""


class UnknownSizeError(Exception):
    """Nobody knows what a mark distance should read; the message is half a sentence for people."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One distance between two marks, in mm."""

    nominal: float
    read: Number
    way: str  # "around", "across", or empty where the sheet does not say
    patch: Patch

    @property
    def name(self) -> str:
        """The distance as people call it."""
        return f"{shortest(self.nominal)} mm {self.way}".rstrip()


@dataclass(frozen=True, slots=True)
class Expected:
    """What a distance should read, and what was taken into account."""

    length_mm: float
    how: tuple[str, ...]


def marks_of(negative: Negative) -> list[Mark]:
    """Return the distances that were read, in the order of the sheet."""
    return [
        Mark(patch.nominal.value, patch.length_mm, _way(patch.where), patch)
        for patch in negative.patches_of(PatchKind.LENGTH)
        if patch.nominal and patch.length_mm
    ]


def _way(where: str) -> str:
    words = where.casefold().split()
    found = [way for way in (AROUND, ACROSS) if way in words]
    return found[0] if len(found) == 1 else ""


def expected(subject: Subject, mark: Mark) -> Expected:
    """Return what a distance should read on film in the climate of the room.

    Raises
    ------
    UnknownSizeError : the plate is known in part only, or sheet and rules contradict each other
    """
    length, how = mark.nominal, list[str]()
    try:
        wrap = _k_and_repeat(subject, mark)
        if wrap:
            length = float(distorted_length(length, *wrap))
            how.append(f"plate wrap, K {wrap[0]:.3f} mm on a repeat of {shortest(wrap[1])} mm")
        shrink = _stated(subject, "shrink")
        if shrink:
            length = float(shrunk_length(length, shrink))
            how.append(f"shrink {shortest(shrink)} %")
        growth = _growth(subject, length)
    except MeasureError as error:
        raise UnknownSizeError(str(error)) from error
    if growth:
        how.append(f"the room's climate {growth:+.3f} mm")
    return Expected(length + growth, tuple(how))


def _k_and_repeat(subject: Subject, mark: Mark) -> tuple[float, float] | None:
    """Return K and repeat for a distance around the cylinder, None where it is not bent."""
    names = ("plate thickness", "plate base", "repeat")
    thickness, base, repeat = (_stated(subject, name) for name in names)
    if mark.way == ACROSS or (thickness is None and base is None and repeat is None):
        return None
    if not mark.way:
        reason = "the sheet does not say whether it lies around or across the cylinder"
        raise UnknownSizeError(reason)
    if thickness is None or base is None or repeat is None:
        found = zip(names, (thickness, base, repeat), strict=True)
        missing = [name for name, value in found if value is None]
        raise UnknownSizeError(f"neither the sheet nor the rules give the {' and '.join(missing)}")
    return float(k_factor(thickness, base)), repeat


def _stated(subject: Subject, name: str) -> float | None:
    """Return what the sheet says, else what the rules say; both must agree."""
    key, unit = _FROM_RULES[name]
    number: Number | None = getattr(subject.negative, key)
    limit = subject.rules.limit("size", key)
    if number is None or limit is None:
        return number.value if number else limit.number if limit else None
    if abs(number.value - limit.number) > SLACK:
        said = f"{shortest(number.value)} {unit}, the rules {shortest(limit.number)} {unit}"
        raise UnknownSizeError(f"the sheet says {name} {said} ({limit.origin})")
    return number.value


def _growth(subject: Subject, length: float) -> float:
    """Return how much the film has grown since the climate it was made for, 0 where unknown."""
    rules, negative = subject.rules, subject.negative
    temperature, humidity = negative.temperature_c, negative.humidity_percent
    warm = rules.limit("size", "reference_temperature_c")
    damp = rules.limit("size", "reference_humidity_percent")
    return float(
        film_growth(
            length,
            delta_c=temperature.value - warm.number if temperature and warm else 0.0,
            delta_rh=humidity.value - damp.number if humidity and damp else 0.0,
            per_c=PER_PPM * rules.number("size", "growth_ppm_per_c", default=0.0),
            per_rh=PER_PPM * rules.number("size", "growth_ppm_per_percent_rh", default=0.0),
        )
    )
