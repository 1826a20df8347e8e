"""Past jobs through the checks once more, from their recorded readings, under other rules.

Only the checks of those sections are run that an edit can change; what the others answered stands
in the record.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from gatekeeper.case import JobSheet, SameReadings, standing
from gatekeeper.checks import control, plausibility, remeasuring
from gatekeeper.checks.interface import Subject
from gatekeeper.checks.measured import measure
from gatekeeper.checks.registry import CHECKS
from gatekeeper.earlier import earlier_measurements
from gatekeeper.likeness import digits_of
from gatekeeper.signals import recorded as signals_of
from gatekeeper.verdict import Outcome

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from datetime import datetime, tzinfo

    from gatekeeper.history.replay import LikeFilm, PastJob, PastSheet, PastSignal, Replay
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.sheet import Negative
    from gatekeeper.signals import Signals
    from gatekeeper.verdict import Finding

SECTIONS = frozenset(check.NAME for check in CHECKS)
"""Every section that a check judges."""

OF_PATCHES = SECTIONS - {
    "required", "film", "linearization", "meter", "screen", "inspection", "freshness", "control",
    "remeasuring",
}  # fmt: skip
"""Those whose checks look at patches; the others ask only what the head of the sheet says."""

_HARMLESS = frozenset({Outcome.PASS, Outcome.NOTE})


@dataclass(frozen=True)
class Room:
    """What the jobs are judged in beside their rules."""

    register: Register
    zone: tzinfo

    @cached_property
    def without_doubt(self) -> Register:
        """The register whose meters are not known to be good or bad.

        Where the rules compare plainly, doubt decides nothing, and working it out takes longer than
        all the rest.
        """
        meters = {
            name: meter.model_copy(update={"uncertainty": None})
            for name, meter in self.register.meters.items()
        }
        return replace(self.register, meters=meters)

    def register_for(self, rules: EffectiveRules) -> Register:
        """Return what jobs under these rules are judged with."""
        rule = rules.limit("decision", "rule")
        return self.without_doubt if rule and rule.value == "plain" else self.register


@dataclass(frozen=True, slots=True)
class _Recorded:
    """What is known of jobs beside their sheets, as far as the checks that are run ask for it."""

    arrivals: Mapping[int, datetime]
    alike: Mapping[int, Sequence[LikeFilm]]
    signals: Mapping[int, Sequence[PastSignal]]


def failing(
    past: Replay,
    jobs: Sequence[PastJob],
    rules_of: Mapping[int, EffectiveRules],
    sections: Collection[str],
    room: Room,
) -> dict[int, frozenset[str]]:
    """Return by verdict the rules of these sections that would hold the job.

    A job of which no reading is recorded is left out: nobody can judge it again.
    """
    ids = [job.id for job in jobs]
    sheets = past.sheets(
        ids,
        with_patches=not OF_PATCHES.isdisjoint(sections),
        with_replaced=remeasuring.NAME in sections,
    )
    recorded = _Recorded(
        past.arrivals(ids),
        past.like_films(ids) if plausibility.NAME in sections else {},
        past.signals(ids) if control.NAME in sections else {},
    )
    checks = [check for check in CHECKS if check.NAME in sections]
    found: dict[int, frozenset[str]] = {}
    for job_id in ids:
        rules = rules_of[job_id]
        subjects = _subjects(job_id, sheets.get(job_id, ()), recorded, rules, room)
        holding: set[str] = set()
        for subject in subjects:
            findings = [finding for check in checks for finding in check.judge(subject)]
            holding.update(_holding(findings, rules, sections))
        if subjects:
            found[job_id] = frozenset(holding)
    return found


def _subjects(
    job_id: int,
    past_sheets: Sequence[PastSheet],
    recorded: _Recorded,
    rules: EffectiveRules,
    room: Room,
) -> list[Subject]:
    """Return the negatives that count, each with what its checks may know."""
    sheets = tuple(map(_job_sheet, past_sheets))
    counting = _counting(sheets)
    measured = [measure(negative) for _, negative in counting]
    return [
        Subject(
            one,
            rules,
            room.register_for(rules),
            recorded.arrivals[job_id],
            room.zone,
            others=tuple(other for other in measured if other is not one),
            earlier=earlier_measurements(sheets, owner, negative, room.zone)
            if len(sheets) > 1
            else (),
            same_readings=_same_readings(negative, recorded.alike.get(job_id, ())),
            signals=_signals(negative, recorded.signals.get(job_id, ())),
        )
        for one, (owner, negative) in zip(measured, counting, strict=True)
    ]


def _job_sheet(sheet: PastSheet) -> JobSheet:
    if not sheet.counts:
        return JobSheet(
            sheet.name, sheet.sha256, sheet.ticket, None, replaced=True, before=sheet.sheet
        )
    return JobSheet(sheet.name, sheet.sha256, sheet.ticket, sheet.sheet)


def _counting(sheets: tuple[JobSheet, ...]) -> Sequence[tuple[JobSheet, Negative]]:
    """Return the negatives that count, as they do for the gate."""
    if len(sheets) == 1 and len(sheets[0].negatives) == 1:
        return [(sheets[0], sheets[0].negatives[0])]  # the usual job: nothing takes its place
    return standing(sheets).negatives


def _signals(negative: Negative, recorded_then: Sequence[PastSignal]) -> Signals:
    """Return what the charts showed when the job was judged, as its own findings say."""
    name = negative.separation_name
    return signals_of(
        (signal.words, signal.says) for signal in recorded_then if signal.separation == name
    )


def _same_readings(negative: Negative, alike: Sequence[LikeFilm]) -> SameReadings | None:
    """Return what was known of another job's film then; its name is not needed any more."""
    days = [film.days for film in alike if film.separation == negative.separation_name]
    return SameReadings(digits_of(negative).sha256, "another", days[-1]) if days else None


def _holding(
    findings: Sequence[Finding], rules: EffectiveRules, sections: Collection[str]
) -> Iterator[str]:
    """Yield what holds, and each limit that nobody answered."""
    passed: set[str] = set()
    for finding in findings:
        if finding.outcome is Outcome.PASS:
            passed.add(finding.rule)
        elif finding.outcome not in _HARMLESS:
            yield finding.rule
    for limit in rules.limits:
        if limit.path[0] in sections and not limit.is_setting and limit.rule not in passed:
            yield limit.rule
