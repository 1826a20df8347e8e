"""What every check is handed and how it answers.

A check is a module with `NAME` (the section of the rules), a page as its docstring, and `judge`,
which yields findings about one negative. It answers every limit of its section: a limit without a
passing finding holds the job.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol, TypeAlias

from gatekeeper.checks.advice import ADMINISTRATOR
from gatekeeper.verdict import Finding, Outcome, Step

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from datetime import datetime, tzinfo

    from gatekeeper.case import SameReadings
    from gatekeeper.checks.measured import Measured
    from gatekeeper.checks.reading import Compared
    from gatekeeper.earlier import Earlier
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules, Limit
    from gatekeeper.sheet import Moment, Negative, Trace
    from gatekeeper.signals import Signals


NO_DOUBT = "the rules ask for a guarded decision, and nobody knows how good the meter is"


@dataclass(frozen=True, slots=True)
class Subject:
    """One negative and all that a check may know about it."""

    measured: Measured
    rules: EffectiveRules
    register: Register
    arrived: datetime
    time_zone: tzinfo
    others: tuple[Measured, ...] = ()  # the other negatives of the job
    earlier: tuple[Earlier, ...] = ()  # measurements of this one that no longer count
    signals: Signals | None = None  # of the control charts; None: nobody has looked
    same_readings: SameReadings | None = None  # a film of another job that read alike throughout
    is_told: bool = True  # else outcomes alone count, and what only a report shows is left out

    @property
    def negative(self) -> Negative:
        """The negative as the sheet gives it."""
        return self.measured.negative

    @property
    def guard(self) -> float:
        """How much of a reading's expanded uncertainty is taken off its limits; 0: plain."""
        if not self.rules.is_guarded:
            return 0.0
        return self.rules.number("decision", "guard", default=1.0)

    def printed_at(self) -> tuple[datetime, str]:
        """Return the moment at which film and curve are judged, and in words which one that is."""
        return self._moment(self.negative.printed, "when it was printed")

    def measured_at(self) -> tuple[datetime, str]:
        """Return the moment at which the meter is judged, and in words which one that is."""
        return self._moment(self.negative.measured, "when it was measured")

    def _moment(self, stated: Moment | None, words: str) -> tuple[datetime, str]:
        if stated:
            return stated.instant.astimezone(self.time_zone), words
        arrived = self.arrived.astimezone(self.time_zone)
        return arrived, "when it arrived here (the sheet gives no date)"


class Check(Protocol):
    """The shape of a check module."""

    NAME: str

    def judge(self, subject: Subject) -> Iterator[Finding]:
        """Yield the findings about one negative."""
        ...


Answers: TypeAlias = "Mapping[str, Callable[[Subject, Limit], Finding]]"
"""The answer to each key of a section, by the key's name."""


def answers(subject: Subject, section: str, by_key: Answers) -> Iterator[Finding]:
    """Yield the answer to each limit in force of a section."""
    for limit in subject.rules.under(section):
        yield by_key[limit.path[1]](subject, limit)


def answer(
    subject: Subject,
    limit: Limit,
    outcome: Outcome,
    says: str,
    *,
    measured: float | str | None = None,
    where: str = "",
    off: float | None = None,
    trace: Trace | None = None,
    do: tuple[Step, ...] = (),
) -> Finding:
    """Return the finding that answers a limit in force."""
    if not subject.is_told:
        return Finding(limit.path[0], limit.rule, outcome, says)
    value = limit.value
    has_passed = outcome is Outcome.PASS
    return Finding(
        check=limit.path[0],
        rule=limit.rule,
        outcome=outcome,
        says=says,
        separation=subject.negative.separation_name,
        measured=measured,
        limit=", ".join(limit.words) if isinstance(value, tuple) else value,
        unit=limit.unit,
        where=where,
        off=None if has_passed else off,
        origin=limit.origin,
        trace=str(trace) if trace else "",
        do=() if has_passed else do,
    )


def answer_reading(
    subject: Subject,
    limit: Limit,
    compared: Compared,
    says: str,
    *,
    where: str | None = None,
    do: tuple[Step, ...] = (),
) -> Finding:
    """Return the finding that answers a numeric limit with a reading, its doubt and its odds.

    A guarded limit is shown as it was compared, with the guard band taken off.
    """
    reading = compared.reading
    if not subject.is_told:
        return answer(subject, limit, outcome_of(holds=compared.holds), says)
    if compared.lacks_doubt:
        says, do = NO_DOUBT, (ADMINISTRATOR, *do)
    elif compared.holds is None:
        says = "the meter gave only a bound, which does not prove the limit"
    found = answer(
        subject,
        limit,
        outcome_of(holds=compared.holds),
        says + _guarded(limit, compared),
        measured=reading.value,
        where=reading.where if where is None else where,
        off=compared.excess,
        trace=reading.trace,
        do=do,
    )
    return replace(
        found,
        limit=limit.number + compared.band
        if compared.is_lowest
        else max(limit.number - compared.band, 0.0),
        uncertainty=reading.expanded_u,
        probability=compared.probability,
    )


def _guarded(limit: Limit, compared: Compared) -> str:
    if not compared.band:
        return ""
    return f"; limit {limit}, guarded by {compared.band:.2g}"


def aside(
    subject: Subject,
    rule: str,
    outcome: Outcome,
    says: str,
    *,
    measured: float | str | None = None,
    trace: Trace | None = None,
    do: tuple[Step, ...] = (),
) -> Finding:
    """Return a finding that answers no limit of its own: a contradiction that holds, or a note."""
    return Finding(
        check=rule.split(".", 1)[0],
        rule=rule,
        outcome=outcome,
        says=says,
        separation=subject.negative.separation_name,
        measured=measured,
        trace=str(trace) if trace else "",
        do=do,
    )


def outcome_of(*, holds: bool | None) -> Outcome:
    """Return PASS where the limit holds, HOLD where it does not, NOT JUDGED where nobody knows."""
    if holds is None:
        return Outcome.NOT_JUDGED
    return Outcome.PASS if holds else Outcome.HOLD
