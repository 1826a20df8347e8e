"""Where meter, film lot and curve stand: said in every report, whether a rule asks or not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks import exposure, inspection
from gatekeeper.checks.linearization import find_curve
from gatekeeper.verdict import Status
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.interface import Subject


def status_of(subject: Subject) -> Iterator[Status]:
    """Yield one line each about the meter, film lot and curve, exposure and inspection."""
    lines = (
        ("meter", _meter(subject)),
        ("film lot", _film(subject)),
        ("curve", _curve(subject)),
        ("exposure", exposure.status(subject)),
        ("inspection", inspection.status(subject)),
    )
    for name, says in lines:
        if says:
            yield Status(name, says, subject.negative.separation_name)


def _meter(subject: Subject) -> str:
    named = subject.negative.meter
    if named is None:
        return "not given"
    entry = subject.register.meter(named.value)
    if entry is None:
        return f"{plain(named.value)}, not in the register"
    says = f"{plain(named.value)}, calibrated {entry.calibrated}"
    if entry.filter:
        says += f", {plain(entry.filter)} filter"
    if entry.uncertainty is not None:
        says += f", ±{entry.uncertainty:g} density (k = 2)"
    return says


def _film(subject: Subject) -> str:
    named = subject.negative.film_lot
    if named is None:
        return "not given"
    lot = subject.register.lot(named.value)
    if lot is None:
        return f"{plain(named.value)}, not in the register"
    dates = [
        f"{word} {day}"
        for word, day in (("made", lot.made), ("opened", lot.opened), ("expires", lot.expires))
        if day
    ]
    return ", ".join([f"{plain(named.value)}: {plain(lot.stock)}", *dates])


def _curve(subject: Subject) -> str:
    curve = find_curve(subject)
    if curve:
        return f"{plain(curve.printer)} on {plain(curve.stock)}, linearized {curve.linearized}"
    stated = subject.negative.linearized
    return f"linearized {plain(stated.written)} (sheet)" if stated else "none on record"
