"""Exposure: the solid must hold back the main exposure with stops to spare, on the plate in use.

Why    a density is only dense enough for a plate and a lamp. The plate's own data say how much
       light its floor bears, and how much its finest detail needs; between them lies the exposure.
Keys   exposure: settings from the plate supplier's sheet or the room's own step tests, in mJ/cm2 at
       the plate: floor_dose_mj_cm2 (first hardens the floor), detail_dose_mj_cm2 (holds the finest
       detail), main_exposure_mj_cm2 (what the room gives); limits: min_margin_stops (factors of two
       between the light under the solid and the floor dose), min_window_stops (width of the range
       of exposures that hold the detail and leave the floor soft), max_leak_per_mille (light that
       comes through the solid, in thousandths).
       A visual density is not a UV density: these hold for the light that hardens the plate, and
       every finding says so where the meter did not read UV. meter: {filters: [UV]} asks for it.
Source definitions of density (ISO 5-1) and of radiant exposure; common practice.
Pass   main 1800, floor 12 mJ/cm2, min_margin_stops 1.0; the weakest solid is 2.70: 1.74 stops.
Held   the same with a solid of 2.40: 0.74 stops; 2.48 would be needed.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from gatekeeper.checks import spots
from gatekeeper.checks.advice import (
    ADMINISTRATOR,
    CALL_LEAD,
    CHECK_SHEET,
    CLEAN,
    MEASURE_AGAIN,
    MORE_INK,
    NO_PLATE,
    REPRINT,
    STEP_TEST,
    ZERO_CLEAR,
)
from gatekeeper.checks.interface import Subject, answer, answer_reading, answers, aside
from gatekeeper.checks.measured import TURNED
from gatekeeper.checks.meter import filters_of
from gatekeeper.checks.reading import Compared, Range, Reading, compare, deciding
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.exposure import (
    STOP,
    density_needed,
    exposure_window,
    leak_fraction,
    margin_stops,
)
from gatekeeper.sheet import PatchKind
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import listing, shortest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from gatekeeper.rules.effective import Limit

NAME = "exposure"

Words: TypeAlias = "Callable[[Compared], str]"
"""What is said about the worst spot."""

PER_MILLE = 1000.0
LN10 = math.log(10.0)

_UNUSABLE = (CHECK_SHEET, ZERO_CLEAR, MEASURE_AGAIN, ADMINISTRATOR)
_LEAKS = (CLEAN, ZERO_CLEAR, MEASURE_AGAIN, MORE_INK, REPRINT, STEP_TEST, NO_PLATE, CALL_LEAD)


class Plate(NamedTuple):
    """What the rules say of plate and lamp, mJ/cm2; 0 where they do not."""

    floor: float
    detail: float
    main: float


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer margin, window and leak, and say plainly where a density is not one in the UV."""
    yield from answers(subject, NAME, _ANSWERS)
    light = unlike_uv(subject)
    if light and subject.rules.under(NAME):
        says = f"the exposure was judged by {light}: a visual density is not a UV density"
        yield aside(subject, "exposure.light", Outcome.NOTE, says)


def plate_of(subject: Subject) -> Plate:
    """Return the plate's data."""
    keys = ("floor_dose_mj_cm2", "detail_dose_mj_cm2", "main_exposure_mj_cm2")
    return Plate(*(subject.rules.number(NAME, key, default=0.0) for key in keys))


def unlike_uv(subject: Subject) -> str:
    """Return what the meter read instead of UV light, empty where it read UV."""
    names = filters_of(subject)
    if names and all(name.casefold().split()[0] == "uv" for name in names):
        return ""
    return f"{listing(names)} densities" if names else "densities of unknown light"


def status(subject: Subject) -> str:
    """Return what the plate's data make of the weakest solid, empty where the rules have none."""
    plate = plate_of(subject)
    solids = [spot.net for spot in subject.measured.of(PatchKind.SOLID) if spot.net is not None]
    if not all(plate) or not solids:
        return ""
    try:
        leak = PER_MILLE * float(leak_fraction(min(solids)))
        window = exposure_window(
            min(solids), floor_dose_mj_cm2=plate.floor, detail_dose_mj_cm2=plate.detail
        )
    except MeasureError:
        return ""
    room = f"{_dose(window.lower_mj_cm2)} to {_dose(window.upper_mj_cm2)} mJ/cm2"
    says = f"main {_dose(plate.main)}, room for {room} ({window.stops:.1f} stops)"
    return f"{says}, {leak:.2g} per mille comes through the weakest solid" + _light(subject)


def _dose(mj_cm2: float) -> str:
    return shortest(float(f"{mj_cm2:.3g}"))  # plates and lamps are known to no more digits


def _margin(subject: Subject, limit: Limit) -> Finding:
    plate = plate_of(subject)
    doses = {"main_exposure_mj_cm2": plate.main, "floor_dose_mj_cm2": plate.floor}

    def words(worst: Compared) -> str:
        needed = float(density_needed(**doses, margin_stops=limit.number))
        if worst.holds is False:
            return f"too much light for the floor under the solid; {needed:.2f} would be needed"
        return f"the floor stays soft under the solid; {needed:.2f} would be enough"

    return _stops(subject, limit, lambda net: float(margin_stops(net, **doses)), words)


def _window(subject: Subject, limit: Limit) -> Finding:
    plate = plate_of(subject)

    def stops(net: float) -> float:
        return exposure_window(
            net, floor_dose_mj_cm2=plate.floor, detail_dose_mj_cm2=plate.detail
        ).stops

    def words(worst: Compared) -> str:
        if worst.holds is False:
            return "what holds the detail comes too near to what hardens the floor"
        return "between detail and floor there is room for the exposure"

    return _stops(subject, limit, stops, words)


def _stops(
    subject: Subject, limit: Limit, stops: Callable[[float], float], words: Words
) -> Finding:
    """Answer a limit in stops, of which a density holds back one for every log10 2."""

    def in_stops(spot: Reading) -> Reading:
        u = None if spot.u is None else spot.u / STOP
        return spot._replace(value=stops(spot.value), u=u)

    return _worst(subject, limit, in_stops, Range(lower=limit.number, guard=subject.guard), words)


def _leak(subject: Subject, limit: Limit) -> Finding:
    def leaking(spot: Reading) -> Reading:
        leak = PER_MILLE * float(leak_fraction(spot.value))
        u = None if spot.u is None else leak * LN10 * spot.u
        return spot._replace(value=leak, bound=TURNED[spot.bound], u=u)

    def words(worst: Compared) -> str:
        amount = "too much" if worst.holds is False else "little enough"
        return f"the solid lets through {amount} light"

    return _worst(subject, limit, leaking, Range(upper=limit.number, guard=subject.guard), words)


def _worst(
    subject: Subject,
    limit: Limit,
    worked_out: Callable[[Reading], Reading],
    allowed: Range,
    words: Words,
) -> Finding:
    unusable = spots.unread(subject, limit, PatchKind.SOLID)
    if unusable:
        return unusable
    try:
        read = [worked_out(spot) for spot in spots.densities(subject, PatchKind.SOLID)]
        worst = deciding([compare(spot, allowed) for spot in read])
        says = words(worst) + _light(subject)
    except MeasureError as error:  # a solid below clear film
        reason = f"the exposure cannot be worked out: {error}"
        return answer(subject, limit, Outcome.NOT_JUDGED, reason, do=_UNUSABLE)
    return answer_reading(subject, limit, worst, says, do=_LEAKS)


def _light(subject: Subject) -> str:
    light = unlike_uv(subject)
    return f" (by {light}, which are not UV densities)" if light else ""


_ANSWERS = {
    "min_margin_stops": _margin,
    "min_window_stops": _window,
    "max_leak_per_mille": _leak,
}
