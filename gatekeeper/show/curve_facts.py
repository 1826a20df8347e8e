"""What the picture of a tone curve draws: readings before and after, in percent of area."""

from __future__ import annotations

from dataclasses import dataclass

Reads = tuple[float, float]
"""What a tint was asked to be and what it reads, both in percent."""


@dataclass(frozen=True, slots=True)
class CurveFacts:
    """One printer, film and workflow before and after a new curve; all text is plain."""

    title: str
    workflow: str
    before: tuple[Reads, ...]
    after: tuple[Reads, ...]
    says: str = ""  # the same in a sentence, for who cannot see it
    before_is: str = "before"
    after_is: str = "after, expected"
