"""A filed verdict as the rows that it becomes. Pure: no database is asked here.

Errors   `UnrecordableError` for what cannot be a row, before anything of it is written.
"""

from __future__ import annotations

import math
from dataclasses import fields
from datetime import datetime
from functools import lru_cache
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from gatekeeper.history import trouble
from gatekeeper.history.canonical import canonical, indexable, storable, utc_text
from gatekeeper.history.interface import home_of, job_key
from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Bound, Moment, Number, SheetKind, Text
from gatekeeper.verdict import Outcome

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy import RowMapping

    from gatekeeper.history.interface import FiledSheet, FiledVerdict, Reading
    from gatekeeper.sheet import Negative
    from gatekeeper.verdict import Finding, JudgedSheet, JudgedTicket, Status, Step, Verdict

Cells = dict[str, Any]

SEALED = (
    "ticket", "workflow", "job", "customer", "decision", "was", "concession", "reason",
    "rules_fingerprint", "arrived_at", "filed_at", "program", "folder", "measurements",
)  # fmt: skip
"""Columns of a verdict that its event in the audit chain repeats."""


def verdict_row(filed: FiledVerdict) -> Cells:
    """Return the row of `verdicts`, but for what only the database knows."""
    verdict = filed.verdict
    return {
        "site": storable(filed.site),
        "ticket": verdict.ticket,
        "workflow": indexable(verdict.workflow),
        "job": verdict.job,
        "job_key": job_key(verdict.job),
        "home": home_of(filed.folder),
        "customer": indexable(verdict.customer),
        "decision": verdict.decision.value,
        "was": verdict.was,
        "concession": verdict.concession,
        "reason": reason_of(verdict),
        "rules_fingerprint": verdict.rules_fingerprint,
        "arrived_at": _moment(verdict.arrived, verdict.ticket),
        "filed_at": filed.filed_at,
        **{name: _shared(filed, name) for name in ("printer", "film_lot", "meter")},
        "program": verdict.program,
        "folder": filed.folder,
        "measurements": verdict.measurements,
        "remarks": canonical(
            {
                "companions": verdict.companions,
                "job_tickets": [_fields(ticket) for ticket in verdict.job_tickets],
                "notes": verdict.notes,
                "status": [_fields(status) for status in verdict.status],
            }
        ),
    }


def _fields(part: JudgedTicket | Status) -> dict[str, object]:
    return {field.name: getattr(part, field.name) for field in fields(part)}


def sealed_facts(row: Mapping[str, Any] | RowMapping) -> dict[str, object]:
    """Return what the audit chain repeats of a row of `verdicts`, stored or not."""
    return {name: _sealable(row[name]) for name in SEALED}


def reason_of(verdict: Verdict) -> str:
    """Return what the first finding says that holds, else the first that was not judged."""
    for outcome in (Outcome.HOLD, Outcome.NOT_JUDGED):
        for finding in verdict.findings:
            if finding.outcome is outcome:
                return finding.says
    return ""


def sheet_row(filed: FiledVerdict, sheet: JudgedSheet) -> Cells:
    """Return the row of `sheets`."""
    return {
        "site": filed.site,
        "ticket": sheet.ticket,
        "name": sheet.name,
        "dropped_as": sheet.dropped_as,
        "stem": indexable(PurePosixPath(sheet.dropped_as or sheet.name).stem),
        "sha256": sheet.sha256,
        "workflow": indexable(filed.verdict.workflow),
        "job": filed.verdict.job,
        "job_key": job_key(filed.verdict.job),
        "home": home_of(filed.folder),
        "separations": canonical(sheet.separations),
        "read_as": sheet.read_as,
    }


def negative_rows(site: str, filed: FiledSheet, ticket: str) -> list[Cells]:
    """Return the rows of `negatives` of the sheet of this ticket, without the sheet's id."""
    are_compared = filed.sheet.kind is SheetKind.NEGATIVE
    return [
        {
            "site": site,
            "position": position,
            "separation": negative.separation_name,
            "printer": _word(negative.printer),
            "film_lot": _word(negative.film_lot),
            "meter": _word(negative.meter),
            "measured_at": _in_utc(negative.measured),
            "digits": (digits_of(negative).sha256 or None) if are_compared else None,
            "sheet_ticket": ticket,
            "particulars": canonical(dict(_particulars(negative))),
        }
        for position, negative in enumerate(filed.sheet.negatives)
    ]


def reading_rows(site: str, filed: FiledSheet) -> list[Cells]:
    """Return the rows of `readings`, without the sheet's id; positions count in each negative."""
    rows, counted = [], [0] * len(filed.sheet.negatives)
    for reading in filed.readings:
        if not 0 <= reading.negative < len(counted):
            raise trouble.unrecordable(filed.name, f"has no negative {reading.negative}")
        position = counted[reading.negative]
        rows.append({"site": site, "position": position, **_reading(reading)})
        counted[reading.negative] += 1
    return rows


def finding_rows(site: str, findings: Iterable[Finding]) -> list[Cells]:
    """Return the rows of `findings`, without the verdict's id."""
    return [
        {
            "site": site,
            "position": position,
            "check": finding.check,
            "rule": finding.rule,
            "outcome": finding.outcome.value,
            "says": finding.says,
            "separation": finding.separation,
            **_number_or_words("measured", finding.measured),
            **_number_or_words("limit", finding.limit),
            "unit": finding.unit,
            "where": finding.where,
            "off": _finite(finding.off),
            "origin": finding.origin,
            "trace": finding.trace,
            "do": _written_steps(finding.do),
        }
        for position, finding in enumerate(findings)
    ]


@lru_cache(512)  # most findings ask for nothing, the others for one of few lists
def _written_steps(steps: tuple[Step, ...]) -> str:
    return canonical([[step.order, step.says, step.caution] for step in steps])


def _moment(written: str, ticket: str) -> datetime:
    try:
        moment = datetime.fromisoformat(written)
        utc_text(moment)
    except (ValueError, OverflowError) as error:
        raise trouble.unrecordable(ticket, f'arrived at "{written}"') from error
    return moment


def _sealable(value: object) -> object:
    if isinstance(value, datetime):
        return utc_text(value)
    return storable(value) if isinstance(value, str) else value


def _shared(filed: FiledVerdict, attribute: str) -> str:
    """Return a particular of the current sheets, once each, in the order met."""
    current = {sheet.name for sheet in filed.verdict.sheets if sheet.current}
    words = [
        _word(getattr(negative, attribute))
        for sheet in filed.sheets
        if sheet.name in current
        for negative in sheet.sheet.negatives
    ]
    return ", ".join(dict.fromkeys(word for word in words if word))


def _word(text: Text | None) -> str:
    return text.value if text else ""


def _value(number: Number | None) -> float | None:
    return _finite(number.value) if number else None


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _number_or_words(name: str, value: float | str | None) -> Cells:
    if isinstance(value, str):
        return {name: None, f"{name}_words": value}
    if value is not None and not math.isfinite(value):
        return {name: None, f"{name}_words": str(value)}
    return {name: value, f"{name}_words": None}


def _in_utc(moment: Moment | None) -> datetime | None:
    """Return the instant; None too at the calendar's ends, where UTC has no name for it."""
    try:
        if moment is not None:
            utc_text(moment.instant)
            return moment.instant
    except (OverflowError, ValueError):
        return None
    return None


def _particulars(negative: Negative) -> Iterable[tuple[str, object]]:
    """Yield everything that the head of a negative says, by the attribute's name."""
    for name in type(negative).__slots__:
        match getattr(negative, name):
            case Text(value=words):
                yield name, words
            case Number() as number:
                yield name, {"value": _value(number), "written": number.written}
            case Moment() as moment:
                yield (
                    name,
                    {"instant": moment.instant.isoformat(), "has_time": moment.has_time},
                )
            case str() as choice:  # an enumeration
                yield name, str(choice)
            case _:  # not said; the patches have rows of their own
                pass


def _reading(reading: Reading) -> Cells:
    patch = reading.patch
    numbers = (
        patch.density, patch.transmittance_percent, patch.dot_percent, patch.length_mm,
    )  # fmt: skip
    bounds: list[Bound] = [
        number.bound for number in numbers if number and number.bound is not Bound.EXACT
    ]
    return {
        "negative": reading.negative,
        "kind": patch.kind.value,
        "nominal": _value(patch.nominal),
        "density": _value(patch.density),
        "net_density": _finite(reading.net_density),
        "dot_read_percent": _value(patch.dot_percent),
        "dot_percent": _finite(reading.dot_percent),
        "transmittance_percent": _value(patch.transmittance_percent),
        "length_mm": _value(patch.length_mm),
        "bound": (bounds or [Bound.EXACT])[0].value,
        "where": patch.where,
        "name": patch.name,
        "place": str(patch.trace),
    }
