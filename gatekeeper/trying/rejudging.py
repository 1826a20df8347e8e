"""Past jobs through the checks once more, from their recorded readings, under other rules.

Only the checks of those sections are run that an edit can change; what the others answered stands
in the record. Of the films that are alike in all that a check looks at, one is judged for all.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.checks.registry import CHECKS
from gatekeeper.signals import Signals
from gatekeeper.trying.looks import LOOKS, Days, Likeness
from gatekeeper.verdict import Outcome

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable
    from datetime import tzinfo

    from gatekeeper.checks.interface import Check
    from gatekeeper.history.reread import PastFilm
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.trying.past_cases import PastCase
    from gatekeeper.trying.registers import RegisterEdit

SECTIONS = frozenset(check.NAME for check in CHECKS)
"""Every section that a check judges."""

_HARMLESS = frozenset({Outcome.PASS, Outcome.NOTE})

_NOBODY_ASKS = datetime(1, 1, 2, tzinfo=UTC)
"""The arrival of a sheet whose check does not look at it: fetching it would cost half the rest."""

_MOST = 100_000
"""Answers that one check keeps before it begins anew: some megabytes."""


@dataclass(frozen=True)
class Room:
    """What the jobs are judged in beside their rules."""

    registers: RegisterEdit
    zone: tzinfo

    @cached_property
    def days(self) -> Days:
        """The calendar days of the room."""
        return Days(self.zone)


class Again(NamedTuple):
    """What the checks say of a job now."""

    judged: frozenset[str]  # sections, or rules; what was answered to others stands
    failing: frozenset[str]  # rules of theirs that hold the job


class Rejudging:
    """The checks of some sections under some rules, which judge many jobs.

    Parameters
    ----------
    sections : whose checks judge every job. Others judge where the edited register says something
        else of a film than the room's own, and only what they answer otherwise counts
    only : the rules of those sections that are judged, where `rules` has no others of them
    """

    def __init__(
        self,
        rules: EffectiveRules,
        sections: frozenset[str],
        room: Room,
        only: frozenset[str] = frozenset(),
    ) -> None:
        asking = room.registers.asking(rules) - sections
        before, after = room.registers.pair(rules)
        self.judged = only or sections
        self._workflow = rules.workflow
        self._registers = room.registers
        self._own = _checks(sections, rules, after, room)
        self._before = _checks(asking, rules, before, room)
        self._after = _checks(asking, rules, after, room)
        self.looks_at = frozenset(self._own.keys() | self._after.keys())

    def judge(self, case: PastCase) -> Again:
        """Judge the films of a job."""
        failing = _failing(self._own.values(), case)
        judged = self.judged
        for name in self._told_otherwise(case):
            before, after = (_failing([by[name]], case) for by in (self._before, self._after))
            if before != after:
                judged |= {name}
                failing |= after
        return Again(judged, failing)

    def _told_otherwise(self, case: PastCase) -> Iterable[str]:
        if not self._after:
            return ()
        concerned = (self._registers.concerns(self._workflow, film.head) for film in case.films)
        return self._after.keys() & frozenset().union(*concerned)


class _Remembering:
    """One check under some rules; it keeps what it answered to films that are alike to it."""

    def __init__(self, check: Check, rules: EffectiveRules, register: Register, room: Room) -> None:
        self._check = check
        self._rules = rules
        self._register = register
        self._zone = room.zone
        self._asked = {limit.rule for limit in rules.under(check.NAME)}
        self._looks = LOOKS[check.NAME]
        self._likeness = Likeness(check.NAME, rules, register, room.days)
        self._known: dict[Hashable, frozenset[str]] = {}

    def failing(self, case: PastCase, place: int, film: PastFilm) -> frozenset[str]:
        """Return the rules that hold the film at this place among those of its job that count."""
        if self._looks.beyond and case.looks_beyond(self._looks.beyond):
            return self._judge(case.subject(place, self._rules, self._register, self._zone))
        likeness = self._likeness.of(film, case.arrived)
        known = self._known.get(likeness)
        if known is None:
            if len(self._known) >= _MOST:
                self._known.clear()
            known = self._known[likeness] = self._judge(self._subject(case, film))
        return known

    def _subject(self, case: PastCase, film: PastFilm) -> Subject:
        """Return the film with nothing but what is looked at: so that alike is what it says."""
        arrived = case.arrived() if self._looks.asks_for_arrival(film) else _NOBODY_ASKS
        measured = measure(self._likeness.bare(film).negative)
        return Subject(
            measured,
            self._rules,
            self._register,
            arrived,
            self._zone,
            signals=Signals(),  # none is on record
            is_told=False,
        )

    def _judge(self, subject: Subject) -> frozenset[str]:
        """Return what holds the film, and each limit that nobody answered."""
        passed: set[str] = set()
        failing: set[str] = set()
        for finding in self._check.judge(subject):
            if finding.outcome is Outcome.PASS:
                passed.add(finding.rule)
            elif finding.outcome not in _HARMLESS:
                failing.add(finding.rule)
        return frozenset(failing | (self._asked - passed))


def _checks(
    sections: frozenset[str], rules: EffectiveRules, register: Register, room: Room
) -> dict[str, _Remembering]:
    return {
        check.NAME: _Remembering(check, rules, register, room)
        for check in CHECKS
        if check.NAME in sections and (rules.under(check.NAME) or LOOKS[check.NAME].holds_unasked)
    }


def _failing(checks: Iterable[_Remembering], case: PastCase) -> frozenset[str]:
    films = list(enumerate(case.films))
    found = [check.failing(case, place, film) for check in checks for place, film in films]
    return frozenset().union(*found)
