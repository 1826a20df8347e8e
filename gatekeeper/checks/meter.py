"""Meter: the densitometer must be known, in calibration when it measured, and see the right light.

Why    every other finding rests on this instrument; a meter that has drifted passes bad negatives
       without a sign. Visual density is not UV density: ink that looks black may let the lamp's UV
       through, so a workflow can ask for UV.
Keys   meter: max_calibration_days, filters (spectral responses by the names of ISO 5-3: visual, UV,
       blue, …). The register knows a meter's filter; where the sheet states one too, both must be
       allowed. A meter that a register does not know holds the job whether a key asks or not.
Source common practice; ISO 5-3:2009 for the names of responses (scope opened).
Pass   max_calibration_days 365; calibrated on 1 September, measured on 20 November: 80 days.
Held   a meter that the register does not know; the finding names the nearest known one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, CALIBRATE, FILL_IN, MEASURE_AGAIN, OTHER_METER
from gatekeeper.checks.ages import disagreement, judge_age, outranking
from gatekeeper.checks.interface import Subject, answer, answers, aside
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.models import MeterEntry
    from gatekeeper.rules.effective import Limit

NAME = "meter"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer calibration and filter, and say where sheet and register disagree."""
    yield from _unknown(subject)
    yield from answers(subject, NAME, _ANSWERS)
    entry = meter_of(subject)
    if entry and subject.rules.under(NAME):
        stated = subject.negative.meter_calibrated
        yield from disagreement(
            subject, "meter.calibrated", "meter calibrated", entry.calibrated, stated
        )
        yield from _other_filter(subject, entry)


def meter_of(subject: Subject) -> MeterEntry | None:
    """Return what the register knows of the meter that the sheet names."""
    named = subject.negative.meter
    return subject.register.meter(named.value) if named else None


def filters_of(subject: Subject) -> tuple[str, ...]:
    """Return the meter's filter by the register and by the sheet: none, one, or two that differ."""
    entry, stated = meter_of(subject), subject.negative.filter
    names = (entry.filter if entry else None, stated.value if stated else None)
    return tuple({name.casefold(): name for name in names if name}.values())


def _unknown(subject: Subject) -> Iterator[Finding]:
    named = subject.negative.meter
    if named is None or not subject.register.meters or meter_of(subject):
        return
    near = did_you_mean(named.value, subject.register.meters)
    says = f"the meter {quoted(named.value)} is not in the register; {near}"
    yield aside(
        subject,
        "meter.known",
        Outcome.HOLD,
        says,
        measured=plain(named.value),
        trace=named.trace,
        do=(ASK_NAME,),
    )


def _other_filter(subject: Subject, entry: MeterEntry) -> Iterator[Finding]:
    names = filters_of(subject)
    if entry.filter and len(names) > 1:
        says = f"the register says filter {quoted(names[0])}, the sheet {quoted(names[1])}"
        yield aside(subject, "meter.filter", Outcome.NOTE, says)


def _calibration(subject: Subject, limit: Limit) -> Finding:
    entry = meter_of(subject)
    since = outranking(
        subject, entry.calibrated if entry else None, subject.negative.meter_calibrated
    )
    if since is None:
        says = (
            "it is not known when the meter was calibrated: neither the register nor the sheet says"
        )
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    measured, when = subject.measured_at()
    return judge_age(
        subject,
        limit,
        since=since,
        until=measured.date(),
        what="the meter was calibrated",
        when=when,
        do=(OTHER_METER, CALIBRATE),
    )


def _filter(subject: Subject, limit: Limit) -> Finding:
    names = filters_of(subject)
    if not names:
        says = (
            "it is not known which filter the meter read through: "
            "neither the register nor the sheet says"
        )
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    allowed = {word.casefold() for word in limit.words}
    wrong = [name for name in names if name.casefold() not in allowed]
    if wrong:
        says = f"the meter read through {quoted(wrong[0])}, which this workflow does not take"
        do = (OTHER_METER, MEASURE_AGAIN)
        return answer(subject, limit, Outcome.HOLD, says, measured=plain(wrong[0]), do=do)
    says = "the meter reads through a filter that may be used"
    return answer(subject, limit, Outcome.PASS, says, measured=", ".join(map(plain, names)))


_ANSWERS = {"max_calibration_days": _calibration, "filters": _filter}
