"""What the history knows of a site's meters: checks, and jobs that a failed check doubts."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from gatekeeper.control.meter_doubt import Doubt, checks_of, doubts
from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.control.tablet import PastCheck, TabletReading
from gatekeeper.history import NoHistoryYetError
from gatekeeper.measures.uncertainty import en_number
from gatekeeper.sheet import Bound, SheetKind
from gatekeeper.verdict import Decision
from gatekeeper.wording import fold
from gatekeeper.workshop import lookup_of

if TYPE_CHECKING:
    from gatekeeper.clock import Clock
    from gatekeeper.history.past import MeasuredFilm
    from gatekeeper.register.models import MeterEntry
    from gatekeeper.register.register import Register
    from gatekeeper.site import Site

LOOK_BACK = timedelta(days=400)
"""A little more than a year: no meter should go longer without a certificate."""


def standing_doubts(site: Site, register: Register, clock: Clock) -> tuple[Doubt, ...]:
    """Return the doubts that stand, with the jobs that each puts in question.

    Raises
    ------
    HistoryAwayError : the history cannot be asked
    """
    checks = checks_of(_films(site, clock, SHELVES[SheetKind.METER_CHECK]))
    if all(check.passed for check in checks):
        return ()  # the usual case, and it spares a look at everything that was measured
    calibrated = {name: entry.calibrated for name, entry in register.meters.items()}
    return doubts(_films(site, clock, None), calibrated, site.time_zone)


def checks_of_meter(site: Site, register: Register, meter: str, clock: Clock) -> list[PastCheck]:
    """Return the checks of a meter, the oldest first.

    Raises
    ------
    HistoryAwayError : the history cannot be asked
    """
    entry = register.meter(meter)
    shelf = SHELVES[SheetKind.METER_CHECK]
    films = [
        film for film in _films(site, clock, shelf) if fold(film.negative.meter) == fold(meter)
    ]
    found = [
        PastCheck(
            at=film.negative.measured_at or film.arrived_at,
            passed=film.decision is Decision.APPROVED,
            readings=_readings(film, entry) if entry else (),
        )
        for film in films
    ]
    return sorted(found, key=lambda check: check.at)


def _films(site: Site, clock: Clock, workflow: str | None) -> tuple[MeasuredFilm, ...]:
    since = clock.now() - LOOK_BACK
    with lookup_of(site, clock) as history:
        try:
            return history.films(since=since, workflow=workflow)
        except NoHistoryYetError:
            return ()


def _readings(film: MeasuredFilm, entry: MeterEntry) -> tuple[TabletReading, ...]:
    certified = {fold(step): (step, value) for step, value in entry.tablet.items()}
    own, theirs = entry.uncertainty or 0.0, entry.tablet_uncertainty or 0.0
    found = []
    for reading in film.negative.readings:
        place = fold(reading.where or reading.name)
        if place in certified and reading.density is not None and reading.bound == Bound.EXACT:
            step, value = certified[place]
            en = float(en_number(reading.density, value, own, theirs)) if own or theirs else 0.0
            found.append(TabletReading(step, reading.density, value, en))
    return tuple(found)
