"""The steps of all findings as one list: in the order of the bench, each once, cautions with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show.lines import LONGEST
from gatekeeper.verdict import Outcome
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from gatekeeper.verdict import Finding, Step


@dataclass(frozen=True, slots=True)
class ToDo:
    """One step at the bench, its caution, and the numbers of the reasons that ask for it."""

    says: str
    caution: str
    reasons: tuple[int, ...]


def merged_steps(findings: Iterable[Finding], reasons: Iterable[Finding]) -> tuple[ToDo, ...]:
    """Return what to do for the findings that hold, numbered as `reasons`, and for notes.

    For a job that may be used as it is there are no reasons, and only notes ask for something.
    """
    numbers = {id(finding): number for number, finding in enumerate(reasons, start=1)}
    asked = [
        (step, numbers.get(id(finding)))
        for finding in findings
        if finding.outcome is Outcome.NOTE or id(finding) in numbers
        for step in finding.do
    ]
    places: dict[str, int] = {}
    for step, _ in asked:
        places[step.says] = min(step.order, places.get(step.says, step.order))
    return tuple(
        _merged([pair for pair in asked if pair[0].says == says])
        for says in sorted(places, key=places.__getitem__)
    )


def _merged(alike: Collection[tuple[Step, int | None]]) -> ToDo:
    cautions = dict.fromkeys(step.caution for step, _ in alike if step.caution)
    numbers = dict.fromkeys(number for _, number in alike if number)
    says = next(step.says for step, _ in alike)
    return ToDo(plain(says, LONGEST), plain("; ".join(cautions), LONGEST), tuple(numbers))
