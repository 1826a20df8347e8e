"""Past jobs as the checks meet them, made from their rows as far as a check looks at it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from gatekeeper.case import JobSheet, SameReadings, standing
from gatekeeper.checks import control, plausibility, remeasuring
from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.earlier import earlier_measurements
from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Sheet, SheetKind
from gatekeeper.signals import recorded as signals_of
from gatekeeper.trying.looks import LOOKS
from gatekeeper.wording import fold

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from datetime import datetime, tzinfo

    from gatekeeper.checks.measured import Measured
    from gatekeeper.earlier import Earlier
    from gatekeeper.history.replay import PastSheet, Replay
    from gatekeeper.history.reread import PastFilm
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.sheet import Negative
    from gatekeeper.signals import Signals


class PastCases:
    """What is recorded of some jobs, as far as the checks of these sections look at it."""

    def __init__(self, past: Replay, ids: Sequence[int], sections: Collection[str]) -> None:
        self._past = past
        self._ids = ids
        self._sheets = past.sheets(
            ids,
            with_patches=any(LOOKS[section].patches for section in sections),
            with_replaced=remeasuring.NAME in sections,
        )
        self.alike = past.like_films(ids) if plausibility.NAME in sections else {}
        self.signals = past.signals(ids) if control.NAME in sections else {}

    @cached_property
    def arrivals(self) -> dict[int, datetime]:
        """The moments at which the jobs' sheets arrived."""
        return self._past.arrivals(self._ids)

    def __iter__(self) -> Iterator[PastCase]:
        """Yield the jobs of which films count; of the others no reading is recorded."""
        for job, sheets in self._sheets.items():
            case = PastCase(self, job, sheets)
            if case.films:
                yield case


class PastCase:
    """A job with the films that count, as they do for the gate."""

    def __init__(self, among: PastCases, job: int, sheets: Sequence[PastSheet]) -> None:
        self.id = job
        self._among = among
        self._sheets = sheets
        self._is_plain = _is_plain(sheets)

    @cached_property
    def films(self) -> list[PastFilm]:
        """The films that count."""
        films = [film for sheet in self._sheets for film in sheet.films]
        if self._is_plain:
            return films
        negatives = [negative for sheet in self._job_sheets for negative in sheet.was_measured]
        places = {id(negative): place for place, negative in enumerate(negatives)}
        return [films[places[id(negative)]] for _, negative in self._standing]

    def arrived(self) -> datetime:
        """Return the moment at which the job's sheet arrived."""
        return self._among.arrivals[self.id]

    def looks_beyond(self, names: Collection[str]) -> bool:
        """Whether there is any of this to see beside a film, by the names of `Subject`."""
        there = {
            "arrived": True,
            "others": len(self.films) > 1,
            "earlier": not self._is_plain,
            "same_readings": self.id in self._among.alike,
            "signals": self.id in self._among.signals,
        }
        return any(there[name] for name in names)

    def subject(
        self, place: int, rules: EffectiveRules, register: Register, zone: tzinfo
    ) -> Subject:
        """Return the film at this place among those that count, with all that a check may know."""
        one, negative = self._measured[place], self._negatives[place]
        return Subject(
            one,
            rules,
            register,
            self.arrived(),
            zone,
            others=tuple(other for other in self._measured if other is not one),
            earlier=() if self._is_plain else self._earlier(place, zone),
            same_readings=self._same_readings(negative),
            signals=self._signals(negative),
            is_told=False,
        )

    @cached_property
    def _negatives(self) -> list[Negative]:
        if self._is_plain:
            return [film.negative for film in self.films]
        return [negative for _, negative in self._standing]

    @cached_property
    def _measured(self) -> list[Measured]:
        return [measure(negative) for negative in self._negatives]

    @cached_property
    def _job_sheets(self) -> tuple[JobSheet, ...]:
        return tuple(map(_job_sheet, self._sheets))

    @cached_property
    def _standing(self) -> Sequence[tuple[JobSheet, Negative]]:
        return standing(self._job_sheets).negatives

    def _earlier(self, place: int, zone: tzinfo) -> tuple[Earlier, ...]:
        owner, negative = self._standing[place]
        return earlier_measurements(self._job_sheets, owner, negative, zone)

    def _signals(self, negative: Negative) -> Signals:
        """Return what the charts showed when the job was judged, as its own findings say."""
        name = negative.separation_name
        then = self._among.signals.get(self.id, ())
        return signals_of((found.words, found.says) for found in then if found.separation == name)

    def _same_readings(self, negative: Negative) -> SameReadings | None:
        """Return what was known of another job's film then; its name is not needed any more."""
        name = negative.separation_name
        alike = self._among.alike.get(self.id, ())
        days = [film.days for film in alike if film.separation == name]
        return SameReadings(digits_of(negative).sha256, "another", days[-1]) if days else None


def _is_plain(sheets: Sequence[PastSheet]) -> bool:
    """Whether every film counts: one for each separation, and none that may stand for another."""
    if not all(sheet.counts for sheet in sheets):
        return False
    names = [fold(film.head.get("separation", "")) for sheet in sheets for film in sheet.films]
    return len(names) == 1 or (len(set(names)) == len(names) and "" not in names)


def _job_sheet(sheet: PastSheet) -> JobSheet:
    negatives = tuple(film.negative for film in sheet.films)
    read = Sheet(SheetKind.NEGATIVE, negatives) if negatives else None
    counts = sheet.counts
    return JobSheet(
        sheet.name,
        sheet.sha256,
        sheet.ticket,
        read if counts else None,
        replaced=not counts,
        before=None if counts else read,
    )
