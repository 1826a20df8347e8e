"""Screen: the plate must hold the ruling, and the resolution must be one the workflow allows.

Why    too fine a ruling closes up on the plate; too low a resolution leaves too few tone steps in a
       cell.
Keys   screen: ruling_lpi {min, max}, resolution_dpi (a list), min_grey_levels (from resolution and
       ruling). A resolution that the register's printer does not have holds as soon as any of them
       asks.
Source common practice: rulings of 20 to 115 lpi; grey levels (dpi / lpi) squared plus 1, ISO
       12647-9:2021, 4.2.2 (read in a transcription).
Pass   ruling 65 lpi at 1440 dpi within 20 to 115 lpi and [720, 1440].
Held   ruling 133 lpi; or 600 dpi where only 720 and 1440 are allowed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import CALL_LEAD, CHECK_SHEET, FILL_IN, SCREEN
from gatekeeper.checks.compare import SLACK, at_least, at_most
from gatekeeper.checks.interface import Subject, answer, answers, aside, outcome_of
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.screen import grey_levels
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.rules.effective import Limit

NAME = "screen"

_WRONG = (CHECK_SHEET, SCREEN, CALL_LEAD)


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer ruling, resolution and grey levels, and hold what the printer cannot print."""
    yield from answers(subject, NAME, _ANSWERS)
    if subject.rules.under(NAME):
        yield from _beyond_printer(subject)


def _ruling(subject: Subject, limit: Limit) -> Finding:
    ruling = subject.negative.ruling_lpi
    if ruling is None:
        says = "the sheet does not give the ruling"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN,))
    lowest = limit.path[-1] == "min"
    holds = at_least(ruling.value, limit.number) if lowest else at_most(ruling.value, limit.number)
    too = "coarse" if lowest else "fine"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        "the ruling is within the limit" if holds else f"the ruling is too {too}",
        measured=ruling.value,
        off=abs(ruling.value - limit.number),
        trace=ruling.trace,
        do=_WRONG,
    )


def _resolution(subject: Subject, limit: Limit) -> Finding:
    resolution = subject.negative.resolution_dpi
    if resolution is None:
        says = "the sheet does not give the resolution"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN,))
    holds = any(abs(resolution.value - allowed) <= SLACK for allowed in limit.numbers)
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        "the resolution may be used" if holds else "the resolution is not one of this workflow's",
        measured=resolution.value,
        trace=resolution.trace,
        do=_WRONG,
    )


def _grey_levels(subject: Subject, limit: Limit) -> Finding:
    ruling, resolution = subject.negative.ruling_lpi, subject.negative.resolution_dpi
    if ruling is None or resolution is None:
        says = "tone steps need both ruling and resolution on the sheet"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN,))
    try:
        levels = float(grey_levels(resolution.value, ruling.value))
    except MeasureError:
        says = "the ruling is not below the resolution: one of the two is wrong"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, trace=ruling.trace, do=_WRONG)
    holds = at_least(levels, limit.number)
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        f"the cell holds {'enough' if holds else 'too few'} tone steps",
        measured=levels,
        off=limit.number - levels,
        do=_WRONG,
    )


def _beyond_printer(subject: Subject) -> Iterator[Finding]:
    """Say when the sheet claims a resolution that its printer does not have."""
    printer, resolution = subject.negative.printer, subject.negative.resolution_dpi
    entry = subject.register.printer(printer.value) if printer else None
    if printer is None or resolution is None or entry is None or not entry.resolution_dpi:
        return
    if any(abs(resolution.value - own) <= SLACK for own in entry.resolution_dpi):
        return
    own = ", ".join(f"{dpi:g}" for dpi in entry.resolution_dpi)
    yield aside(
        subject,
        "screen.printer",
        Outcome.HOLD,
        f"printer {plain(printer.value)} prints {own} dpi, the sheet says {resolution.value:g} dpi",
        measured=resolution.value,
        trace=resolution.trace,
        do=_WRONG,
    )


_ANSWERS = {
    "ruling_lpi": _ruling,
    "resolution_dpi": _resolution,
    "min_grey_levels": _grey_levels,
}
