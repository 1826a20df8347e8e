"""Findings about sheets of the room: an answer that passes, one that holds, a note. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from gatekeeper.sheet import Trace
    from gatekeeper.verdict import Step

OURS = "built in"
"""Origin of a limit that stands in the program and not in a file of the room."""


class Figures(NamedTuple):
    """What was measured beside what was asked."""

    measured: float | str | None = None
    limit: float | None = None
    unit: str = ""
    where: str = ""


def passed(rule: str, says: str, *, figures: Figures | None = None, origin: str = OURS) -> Finding:
    """Return an answer that what was asked is so."""
    return _answer(rule, Outcome.PASS, says, figures or Figures(), origin)


def held(
    rule: str,
    says: str,
    *,
    do: tuple[Step, ...],
    figures: Figures | None = None,
    origin: str = OURS,
    trace: Trace | None = None,
) -> Finding:
    """Return an answer that what was asked is not so, with what to do about it."""
    return _answer(rule, Outcome.HOLD, says, figures or Figures(), origin, do, trace)


def note(rule: str, says: str) -> Finding:
    """Return a remark that answers nothing and holds nothing."""
    return _answer(rule, Outcome.NOTE, says, Figures(), "")


def _answer(  # noqa: PLR0917 -- the three above name what they hand over
    rule: str,
    outcome: Outcome,
    says: str,
    figures: Figures,
    origin: str,
    do: tuple[Step, ...] = (),
    trace: Trace | None = None,
) -> Finding:
    return Finding(
        check=rule.split(".", 1)[0],
        rule=rule,
        outcome=outcome,
        says=says,
        measured=_number(figures.measured),
        limit=_number(figures.limit),
        unit=figures.unit,
        where=figures.where,
        origin=origin,
        trace=str(trace) if trace else "",
        do=do,
    )


def _number(value: float | str | None) -> float | str | None:
    return value if value is None or isinstance(value, str) else float(value)
