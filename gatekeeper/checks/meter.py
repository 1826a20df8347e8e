"""Meter: is the densitometer known, was it in calibration when it measured, and does it see the right light?

Why    every other finding rests on this instrument; a meter that has drifted passes bad negatives without a sign.
Keys   meter: max_calibration_days, filters (spectral responses by the names of ISO 5-3: visual, UV, blue, …).
       Visual density is not UV density: ink that looks black may let the lamp's UV through, so a workflow can ask for UV.
Pass   max_calibration_days 365; calibrated on 1 September, measured on 20 November: 80 days.
Held   a meter that the register does not know; the finding names the nearest known one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.checks.advice import ASK_NAME, CALIBRATE, FILL_IN, MEASURE_AGAIN, OTHER_METER
from gatekeeper.checks.ages import day_of, disagreement, judge_age
from gatekeeper.checks.interface import Subject, answer, aside
from gatekeeper.verdict import Finding, Outcome
from gatekeeper.wording import did_you_mean, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.register.models import MeterEntry
    from gatekeeper.rules.effective import Limit

NAME = "meter"


def judge(subject: Subject) -> Iterator[Finding]:
    """Answer calibration and filter, and say where sheet and register disagree."""
    limits = subject.rules.under(NAME)
    if not limits:
        return
    named = subject.negative.meter
    entry = subject.register.meter(named.value) if named else None
    if named and entry is None and subject.register.meters:
        near = did_you_mean(named.value, subject.register.meters)
        says = f"the meter {quoted(named.value)} is not in the register; {near}"
        yield aside(subject, "meter.known", Outcome.HOLD, says, trace=named.trace, do=(ASK_NAME,))
    for limit in limits:
        match limit.path[1]:
            case "max_calibration_days":
                yield _calibration(subject, limit, entry)
            case "filters":
                yield _filter(subject, limit, entry)
    if entry:
        sheet_filter = subject.negative.filter.value if subject.negative.filter else None
        for note in (
            disagreement(
                subject,
                "meter.calibrated",
                "meter calibrated",
                entry.calibrated,
                subject.negative.meter_calibrated,
            ),
            disagreement(subject, "meter.filter", "filter", entry.filter, sheet_filter),
        ):
            if note:
                yield note


def _calibration(subject: Subject, limit: Limit, entry: MeterEntry | None) -> Finding:
    since = entry.calibrated if entry else day_of(subject, subject.negative.meter_calibrated)
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


def _filter(subject: Subject, limit: Limit, entry: MeterEntry | None) -> Finding:
    on_sheet = subject.negative.filter.value if subject.negative.filter else None
    name = entry.filter if entry and entry.filter else on_sheet
    if name is None:
        says = "it is not known which filter the meter read through: neither the register nor the sheet says"
        return answer(subject, limit, Outcome.NOT_JUDGED, says, do=(FILL_IN, ASK_NAME))
    if name.casefold() in {word.casefold() for word in limit.words}:
        return answer(
            subject,
            limit,
            Outcome.PASS,
            "the meter reads through a filter that may be used",
            measured=name,
        )
    says = f"the meter read through {quoted(name)}, which this workflow does not take"
    return answer(
        subject, limit, Outcome.HOLD, says, measured=name, do=(OTHER_METER, MEASURE_AGAIN)
    )
