"""What runs out soon or has run out: meters, curves and film lots, by register and rules.

Pure: it is handed the register, the rules and the day. Rules of customers are not asked: the day is
that of the workflow. Source of what is asked: common practice, as the workflow's rules state it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from gatekeeper.register.made_for import of_entry
from gatekeeper.rules.library import UnknownNameError
from gatekeeper.wording import fold
from gatekeeper.yamlfiles.places import BrokenFilesError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from gatekeeper.register.models import LotEntry
    from gatekeeper.register.register import Register
    from gatekeeper.rules.effective import EffectiveRules
    from gatekeeper.rules.library import Library

METER_AHEAD = timedelta(days=30)
"""A laboratory wants to be asked in time."""

AHEAD = timedelta(days=7)
"""For film and curves, which the room renews by itself."""

FORGET = timedelta(days=14)
"""Used-up lots and given-up curves stay in the register; so long after their day they are quiet."""


@dataclass(frozen=True, slots=True)
class Expiry:
    """The last day on which something may be used as it is."""

    last_day: date
    subject: str  # "meter T-04"
    says: str  # what runs out
    do: str
    workflows: tuple[str, ...]  # whose rules set the day


def expiries(register: Register, library: Library) -> tuple[Expiry, ...]:
    """Return every last day that register and rules tell, the earliest first."""
    rules = list(_rules(library))
    first: dict[tuple[str, str], Expiry] = {}  # of each subject and workflow
    found = [*_meters(register, rules), *_curves(register, rules), *_lots(register, rules)]
    for expiry in sorted(found, key=lambda entry: entry.last_day):
        first.setdefault((expiry.subject, expiry.workflows[0]), expiry)
    alike: dict[tuple[date, str, str], Expiry] = {}
    for expiry in first.values():
        key = expiry.last_day, expiry.subject, expiry.says
        known = alike.setdefault(key, expiry)
        if known is not expiry:
            alike[key] = replace(known, workflows=known.workflows + expiry.workflows)
    return tuple(alike[key] for key in sorted(alike))


def worth_saying(all_expiries: Iterable[Expiry], today: date) -> tuple[Expiry, ...]:
    """Return those that are near or past; meters until they are calibrated or struck out."""
    return tuple(expiry for expiry in all_expiries if _is_worth_saying(expiry, today))


def _is_worth_saying(expiry: Expiry, today: date) -> bool:
    if expiry.subject.startswith("meter "):
        return expiry.last_day - METER_AHEAD <= today
    return expiry.last_day - AHEAD <= today <= expiry.last_day + FORGET


def _rules(library: Library) -> Iterator[EffectiveRules]:
    for name in sorted(library.workflows):
        try:
            yield library.effective(name, "")
        except (BrokenFilesError, UnknownNameError):
            continue  # said among the alarms


def _days(rules: EffectiveRules, *path: str) -> timedelta | None:
    limit = rules.limit(*path)
    return timedelta(days=limit.number) if limit else None


def _meters(register: Register, every: Sequence[EffectiveRules]) -> Iterator[Expiry]:
    for rules in every:
        asked = _days(rules, "meter", "max_calibration_days")
        filters = rules.limit("meter", "filters")
        taken = {fold(word) for word in filters.words} if filters else set()
        for key, meter in register.meters.items():
            interval = meter.interval_days
            certificate = None if interval is None else timedelta(days=interval)
            spans = [span for span in (asked, certificate) if span is not None]
            if not spans or (taken and meter.filter and fold(meter.filter) not in taken):
                continue
            yield Expiry(
                meter.calibrated + min(spans),
                f"meter {key}",
                "calibration",
                "send it for calibration and enter the certificate's date in register/",
                (rules.workflow,),
            )


def _curves(register: Register, every: Sequence[EffectiveRules]) -> Iterator[Expiry]:
    by_workflow = {fold(rules.workflow): rules for rules in every}
    made_for = map(of_entry, register.curves)
    for film in {(each.route, each.setting): each for each in made_for}.values():
        newest = register.curve(film, date.max)
        rules = by_workflow.get(fold(film.workflow))
        days = _days(rules, "linearization", "max_age_days") if rules else None
        if newest and rules and days is not None:
            do = "print and measure a wedge, and enter the new curve's date in register/"
            at = f", {film.setting}" if film.setting else ""
            subject = f"curve of {film.printer} on {film.stock} for {film.workflow}{at}"
            last_day = newest.linearized + days
            yield Expiry(last_day, subject, "age of the curve", do, (rules.workflow,))


def _lots(register: Register, every: Sequence[EffectiveRules]) -> Iterator[Expiry]:
    for key, lot in register.lots.items():
        for rules in every:
            stocks = rules.limit("film", "stocks")
            if stocks and fold(lot.stock) in {fold(word) for word in stocks.words}:
                for last_day, says in _lot_days(lot, rules):
                    do = "load another lot, or order one"
                    yield Expiry(last_day, f"film lot {key}", says, do, (rules.workflow,))


def _lot_days(lot: LotEntry, rules: EffectiveRules) -> Iterator[tuple[date, str]]:
    for since, rule, says in (
        (lot.expires, "max_days_past_expiry", "date on the label"),
        (lot.made, "max_age_days", "age of the film"),
        (lot.opened, "max_open_days", "days since the pack was opened"),
    ):
        days = _days(rules, "film", rule)
        if since is not None and days is not None:
            yield since + days, says
