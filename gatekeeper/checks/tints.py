"""Tints: does each step of the tone scale read as the artwork asks?

Why    a mid-tone that has drifted prints too full or too thin on every plate until the printer is linearized again.
Keys   tints: a list of {nominal, tolerance}, both in percent of dot; the tolerance is absolute. `reading` says whether the
       clear or the black area prints; `dot_from` whether dots are computed from densities, taken from the meter, or either.
Source Murray-Davies from net densities; common practice: a 50 % tint should read within 2 points.
Pass   nominal 50, tolerance 2.0; the dot reads 52.0 %.
Held   nominal 50, tolerance 2.0; the dot reads 52.1 %.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from gatekeeper.checks.advice import (
    CALL_LEAD,
    CLEAN,
    FILL_IN,
    MEASURE_AGAIN,
    READ_ALL,
    WEDGE,
    ZERO_CLEAR,
    ZERO_HUNDRED,
)
from gatekeeper.checks.compare import SLACK, at_most
from gatekeeper.checks.interface import Subject, answer, outcome_of
from gatekeeper.measures.density import dot_area
from gatekeeper.sheet import Bound, Patch, PatchKind
from gatekeeper.verdict import Finding, Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.measured import NetPatch
    from gatekeeper.rules.effective import Limit

NAME = "tints"

PROVEN_SOLID = 3.0
"""A solid that the meter gives only as "at least" this dense moves a computed dot by less than 0.1 points."""


class Dot(NamedTuple):
    """One reading of one tint in percent of dot that prints."""

    percent: float
    patch: Patch
    how: str


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer each nominal."""
    for limit in subject.rules.under(NAME):
        yield _tint(subject, limit, float(limit.path[1]))


def _tint(subject: Subject, limit: Limit, nominal: float) -> Finding:
    patches = [entry for entry in subject.measured.patches if _is_tint(entry.patch, nominal)]
    if not patches:
        says = f"the sheet has no {nominal:g} % tint"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(READ_ALL, MEASURE_AGAIN))
    dots: list[Dot] = []
    for entry in patches:
        found, reason = dots_of(subject, entry)
        if not found:
            do = (FILL_IN, ZERO_CLEAR, MEASURE_AGAIN)
            return answer(
                subject, limit, Outcome.NOT_JUDGED, reason, trace=entry.patch.trace, do=do
            )
        dots += found
    worst = max(dots, key=lambda dot: abs(dot.percent - nominal))
    error = worst.percent - nominal
    holds = at_most(abs(error), limit.number)
    way = "too full" if error > 0 else "too thin"
    says = f"the {nominal:g} % tint reads {'as it should' if holds else way} ({worst.how})"
    return answer(
        subject,
        limit,
        outcome_of(holds=holds),
        says,
        measured=worst.percent,
        where=worst.patch.where,
        off=abs(error) - limit.number,
        trace=worst.patch.trace,
        do=(CLEAN, ZERO_CLEAR, ZERO_HUNDRED, MEASURE_AGAIN, WEDGE, CALL_LEAD),
    )


def _is_tint(patch: Patch, nominal: float) -> bool:
    return (
        patch.kind is PatchKind.TINT
        and patch.nominal is not None
        and abs(patch.nominal.value - nominal) <= SLACK
    )


def dots_of(subject: Subject, entry: NetPatch) -> tuple[list[Dot], str]:
    """Return the dots that a patch gives, or why it gives none. Where it gives two, both are judged."""
    dots: list[Dot] = []
    reason = ""
    source = subject.rules.dot_from
    meter_dot = entry.patch.dot_percent
    if source in {"either", "meter"} and meter_dot is not None:
        if meter_dot.bound is not Bound.EXACT:
            return [], "the meter gave only a bound for the dot"
        dots.append(Dot(meter_dot.value, entry.patch, "the meter's own dot"))
    if source in {"either", "densities"} and (entry.net is not None or not dots):
        computed, reason = _computed(subject, entry)
        if computed is not None:
            dots.append(Dot(computed, entry.patch, "computed from densities"))
        elif entry.net is not None:
            return [], reason  # a density that cannot be used must not hide behind the meter's dot
    if not dots and source == "meter":
        reason = "the sheet does not give the meter's own dot"
    return dots, reason


def _computed(subject: Subject, entry: NetPatch) -> tuple[float | None, str]:
    if entry.net is None:
        note = (
            subject.measured.zero_note
            if entry.patch.density or entry.patch.transmittance_percent
            else ""
        )
        return None, note or "the tint has neither a density nor a dot"
    if entry.bound is not Bound.EXACT:
        return None, "the meter gave only a bound for the tint"
    solids = subject.measured.of(PatchKind.SOLID)
    usable = [
        spot.net
        for spot in solids
        if spot.net is not None
        and (
            spot.bound is Bound.EXACT or (spot.bound is Bound.AT_LEAST and spot.net >= PROVEN_SOLID)
        )
    ]
    if not usable or len(usable) < len(solids):
        return None, "a dot cannot be computed without the density of the solid"
    solid = sum(usable) / len(usable)
    if not solid > 0:
        return None, "the solid reads no denser than clear film: check the zero and the patches"
    reading: Literal["negative", "positive"] = (
        "negative" if subject.rules.reading == "negative" else "positive"
    )
    return 100.0 * float(dot_area(entry.net, solid, reading=reading)), ""
