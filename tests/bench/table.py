"""What a benchmark found, and the table of it. A figure is a ratio; times alone mean little."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    measure: str
    ratio: str  # what was found, with its unit where it is no ratio
    aim: str
    how: str  # what was divided by what, and the two times


def print_table(figures: Iterable[Figure]) -> None:
    """Print figures as a Markdown table, ready for DEVELOPERS.md."""
    print("| measure | found | aim | how |\n|---|---|---|---|")
    for figure in figures:
        print(f"| {figure.measure} | {figure.ratio} | {figure.aim} | {figure.how} |", flush=True)


def ms(seconds: float) -> str:
    """Return a time in milliseconds, to three digits."""
    return f"{seconds * 1000:.3g} ms"
