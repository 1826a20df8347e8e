"""Bench inspection: what eye and hand found on the film, against what the workflow asks.

Why    a scratch or a pinhole in the solid makes a spot on the plate, a film laid with the wrong
       side to the plate blurs every edge, and none of it shows in a density.
Keys   inspection: cleaned, scratches, pinholes, emulsion, reads (for each, the answers that may
       stand on the sheet), min_type_pt (smallest type, points). Answers are compared without case;
       0, no and nil count as none, y and ok as yes. What the sheet says is recorded either way.
Source common practice: type down to 6 pt; emulsion side to the plate.
Pass   pinholes: [none]; the sheet says `pinholes,0`.
Held   emulsion: [down]; the sheet says `emulsion,up`: or it does not say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CHECK_SHEET,
    CLEAN,
    FILL_IN,
    INSPECT,
    MEASURE_AGAIN,
    OPAQUE,
    REPRINT,
    TYPE_SIZE,
)
from gatekeeper.checks.compare import at_least
from gatekeeper.checks.interface import Subject, answer, answers, outcome_of
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import plain, quoted, shortest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit
    from gatekeeper.sheet import Text
    from gatekeeper.verdict import Step

NAME = "inspection"

SAME = {
    "0": "none",
    "no": "none",
    "nil": "none",
    "n": "none",
    "y": "yes",
    "ok": "yes",
}
"""Words that mean one answer; `no` to a question about cleaning is the `none` of scratches."""

FOUND: dict[str, tuple[str, tuple[Step, ...]]] = {
    "cleaned": ("the film was not cleaned", (CLEAN, INSPECT, MEASURE_AGAIN)),
    "scratches": ("the film is scratched", (INSPECT, REPRINT, CALL_LEAD)),
    "pinholes": ("the solid has pinholes", (INSPECT, OPAQUE, REPRINT, CALL_LEAD)),
    "emulsion": ("the image is on the wrong side of the film", (CHECK_SHEET, REPRINT, CALL_LEAD)),
    "reads": ("the film reads the wrong way", (CHECK_SHEET, REPRINT, CALL_LEAD)),
}
"""What an answer that is not allowed means, and what to do."""


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer each question that the workflow asks."""
    yield from answers(subject, NAME, _ANSWERS)


def status(subject: Subject) -> str:
    """Return every answer of the sheet, empty where it gives none."""
    said = [
        f"{name} {plain(answered.value)}"
        for name in FOUND
        if (answered := _answered(subject, name)) is not None
    ]
    smallest = subject.negative.smallest_type_pt
    if smallest:
        said.append(f"smallest type {shortest(smallest.value)} pt")
    return ", ".join(said)


def _answered(subject: Subject, name: str) -> Text | None:
    answered: Text | None = getattr(subject.negative, name)
    return answered


def _question(subject: Subject, limit: Limit) -> Finding:
    name = limit.path[-1]
    answered = _answered(subject, name)
    if answered is None:
        says = f"the sheet does not say: {name}"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(INSPECT, FILL_IN))
    allowed = {_meaning(word) for word in limit.words}
    holds = _meaning(answered.value) in allowed
    wrong, do = FOUND[name]
    says = f"{name}: {plain(answered.value)}"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says if holds else f"{wrong}: the sheet says {quoted(answered.value)}",
        measured=plain(answered.value),
        trace=answered.trace,
        do=do,
    )


def _meaning(word: str) -> str:
    plain_word = " ".join(word.casefold().split()).removesuffix(" reading").removesuffix("-reading")
    return SAME.get(plain_word, plain_word)


def _type(subject: Subject, limit: Limit) -> Finding:
    smallest = subject.negative.smallest_type_pt
    if smallest is None:
        says = "the sheet does not say: smallest type"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(INSPECT, FILL_IN))
    holds = at_least(smallest.value, limit.number)
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        "the smallest type can be held" if holds else "the smallest type is too small to be held",
        measured=smallest.value,
        off=limit.number - smallest.value,
        trace=smallest.trace,
        do=(TYPE_SIZE, CHECK_SHEET, CALL_LEAD),
    )


_ANSWERS = dict.fromkeys(FOUND, _question) | {"min_type_pt": _type}
