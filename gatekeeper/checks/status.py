"""Where meter, film lot and curve stand: said in every report, whether a rule asks or not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks import exposure, inspection
from gatekeeper.checks.linearization import film_of, find_curve, no_curve, other_settings
from gatekeeper.register.made_for import of_entry
from gatekeeper.verdict import Status
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.checks.interface import Subject
    from gatekeeper.register.models import CurveEntry


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
    others = other_settings(subject)
    if curve:
        return ", ".join(_curve_parts(subject, curve, is_one_of_several=bool(others)))
    stated = subject.negative.linearized
    if stated:
        return f"linearized {plain(stated.written)} (sheet)"
    return no_curve(subject) if others else "none on record"


def _curve_parts(subject: Subject, curve: CurveEntry, *, is_one_of_several: bool) -> Iterator[str]:
    """Yield what the curve is for; where others have a ruling of their own, that this has none."""
    yield f"{plain(curve.printer)} on {plain(curve.stock)}"
    setting, film = of_entry(curve).setting, film_of(subject)
    if setting:
        yield setting
    yield f"linearized {curve.linearized}"
    if is_one_of_several and not setting:
        own = f"no curve of its own for {film.setting}" if film and film.setting else ""
        yield own or "for every resolution and ruling"
