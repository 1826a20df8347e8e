"""Jobs that a failed meter check puts in doubt: they may have passed wrongly.

Rule     in doubt are the films measured with the meter since its last good check. A later good
         check lifts the doubt, for then the failed one was a slip of the hand; but not when the
         meter was calibrated in between, for then it had been wrong and was put right.
         A job is out of doubt once its films have been measured anew with a sound meter.
Source   ISO 9001:2015, 7.1.5.2 (the validity of earlier results, from memory); the rest is ours.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.control.room_sheets import SHELVES
from gatekeeper.sheet import SheetKind
from gatekeeper.verdict import Decision
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date, tzinfo

    from gatekeeper.history.past import MeasuredFilm


class MeterCheck(NamedTuple):
    """One check of a meter."""

    meter: str
    at: datetime
    passed: bool


class Doubtful(NamedTuple):
    """One job that was measured while the meter may have been wrong."""

    workflow: str
    job: str
    measured_at: datetime
    approved: bool  # by the sheet that was measured then


@dataclass(frozen=True, slots=True)
class Doubt:
    """A failed check that nothing has lifted.

    Attributes
    ----------
    failed_at : of the first check that failed
    since : last good check before it, or the calibration; None where neither is known
    until : good check after a calibration, with which the doubt ended; None while it lasts
    jobs : approved ones first, in the order in which they were measured
    """

    meter: str
    failed_at: datetime
    since: datetime | None
    until: datetime | None
    jobs: tuple[Doubtful, ...]


def checks_of(films: Iterable[MeasuredFilm]) -> tuple[MeterCheck, ...]:
    """Return the meter checks among the sheets, in the order in which they were made."""
    shelf = SHELVES[SheetKind.METER_CHECK]
    found = [
        MeterCheck(film.negative.meter, _measured(film), film.decision is Decision.APPROVED)
        for film in films
        if film.workflow == shelf and film.negative.meter
    ]
    return tuple(sorted(found, key=lambda check: check.at))


def doubts(
    films: Sequence[MeasuredFilm], calibrated: Mapping[str, date], zone: tzinfo
) -> tuple[Doubt, ...]:
    """Return every doubt that stands, by meter.

    Parameters
    ----------
    films : everything measured, checks included, in the order of arrival
    calibrated : day of each meter's calibration as the register has it now
    zone : in which that day begins
    """
    by_meter: dict[str, list[MeterCheck]] = {}
    for check in checks_of(films):
        by_meter.setdefault(fold(check.meter), []).append(check)
    days = {fold(name): day for name, day in calibrated.items()}
    newest = _newest(films)
    return tuple(
        doubt
        for meter in sorted(by_meter)
        for doubt in _doubts(by_meter[meter], days.get(meter), zone, newest)
    )


def _doubts(
    checks: Sequence[MeterCheck],
    calibrated: date | None,
    zone: tzinfo,
    films: Sequence[MeasuredFilm],
) -> Iterable[Doubt]:
    good: MeterCheck | None = None
    failed: MeterCheck | None = None
    for check in checks:
        if not check.passed:
            failed = failed or check
            continue
        if failed is not None and _was_put_right(failed, check, calibrated, zone):
            yield _doubt(good, failed, check.at, None, films)
        good, failed = check, None
    if failed is not None:
        begun = _midnight(calibrated, zone)
        yield _doubt(good, failed, None, begun if begun and begun < failed.at else None, films)


def _was_put_right(
    failed: MeterCheck, good: MeterCheck, calibrated: date | None, zone: tzinfo
) -> bool:
    if calibrated is None:
        return False
    return failed.at.astimezone(zone).date() <= calibrated <= good.at.astimezone(zone).date()


def _doubt(
    good: MeterCheck | None,
    failed: MeterCheck,
    until: datetime | None,
    calibrated: datetime | None,
    films: Sequence[MeasuredFilm],
) -> Doubt:
    since = max((moment for moment in (good and good.at, calibrated) if moment), default=None)
    jobs: dict[tuple[str, str], Doubtful] = {}
    for film in films:
        at = _measured(film)
        is_within = (since is None or at > since) and (until is None or at < until)
        if is_within and fold(film.negative.meter) == fold(failed.meter):
            approved = film.decision is Decision.APPROVED
            jobs[film.workflow, film.job] = Doubtful(film.workflow, film.job, at, approved)
    ordered = sorted(jobs.values(), key=lambda job: (not job.approved, job.measured_at))
    return Doubt(failed.meter, failed.at, since, until, tuple(ordered))


def _newest(films: Iterable[MeasuredFilm]) -> list[MeasuredFilm]:
    """Keep of each negative only its last sheet; sheets about the room are no negatives."""
    last: dict[tuple[str, str, str], MeasuredFilm] = {}
    for film in films:
        if film.workflow not in SHELVES.values():
            last[film.workflow, film.job, fold(film.negative.separation)] = film
    return list(last.values())


def _measured(film: MeasuredFilm) -> datetime:
    return film.negative.measured_at or film.arrived_at


def _midnight(day: date | None, zone: tzinfo) -> datetime | None:
    return None if day is None else datetime.combine(day, time(), zone)
