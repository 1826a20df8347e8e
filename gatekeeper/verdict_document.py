"""A verdict as the JSON document that `verdict.json` holds and `check --json` prints, and back.

The document is what a restart, an audit and a rebuild of the history trust, so reading is strict:
a cut, foreign, contradictory or hand-made document is refused, never mended. Equal verdicts give
equal bytes. Its JSON Schema is `schemas/verdict.schema.json`.

A concession is the only way for a verdict to be approved although something in it holds; any other
such document was not written by this program.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, fields
from functools import lru_cache
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from gatekeeper.verdict import (
    Decision,
    Finding,
    JudgedSheet,
    JudgedTicket,
    Outcome,
    Status,
    Step,
    Verdict,
)
from gatekeeper.verdict_shape import (
    DOCUMENT,
    FINDING,
    JOB_TICKET,
    LATER,
    SHEET,
    STATUS,
    STEP,
    NotAVerdictError,
    Shape,
    check_shape,
    refuse,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

__all__ = [
    "FORMAT",
    "VERSION",
    "NotAVerdictError",
    "VerdictRecord",
    "from_bytes",
    "in_one_string",
    "to_bytes",
    "to_document",
]

FORMAT = "gatekeeper verdict"
VERSION = 2
CAUTION = " Caution: "
"""Stands between a step and its caution where both are one string."""

_NOT_PRINTABLE_ASCII = re.compile(r"[^\n -~]")
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",\n", ": "))

_AROUND_THE_VERDICT = {"format", "version", "report_sha256"}
_WHOLE = "the document"
_OUTCOMES = {outcome.value: outcome for outcome in Outcome}
_NUMBERS = ("measured", "limit", "off", "uncertainty", "probability")

Document = dict[str, Any]


@dataclass(frozen=True, slots=True)
class VerdictRecord:
    """What a document says: the verdict, and the digest of the report that was filed with it."""

    verdict: Verdict
    report_sha256: str | None = None


def to_document(verdict: Verdict, *, report_sha256: str | None = None) -> Document:
    """Return the document as plain dicts, lists, text and numbers.

    Raises
    ------
    NotAVerdictError : a number is not finite, or the verdict is approved against its own findings
    """
    _check_decision(verdict)
    document = _verdict_fields(verdict)
    return document | {
        "format": FORMAT,
        "version": VERSION,
        "decision": verdict.decision.value,
        "report_sha256": report_sha256,
        "sheets": [
            _sheet_fields(sheet) | {"separations": list(sheet.separations)}
            for sheet in verdict.sheets
        ],
        "companions": list(verdict.companions),
        "job_tickets": [_ticket_fields(ticket) for ticket in verdict.job_tickets],
        "status": [_status_fields(status) for status in verdict.status],
        "notes": list(verdict.notes),
        "findings": [_finding_document(finding) for finding in verdict.findings],
    }


def _fields_of(kind: type, shape: Shape) -> Callable[[object], Document]:
    """Return what fills the shape's keys, in its order, where `kind` has a field of that name."""
    names = [field.name for field in fields(kind) if field.name in shape]
    values_of = attrgetter(*names)
    return lambda source: dict.fromkeys(shape) | dict(zip(names, values_of(source), strict=True))


_verdict_fields = _fields_of(Verdict, DOCUMENT)
_sheet_fields = _fields_of(JudgedSheet, SHEET)
_ticket_fields = _fields_of(JudgedTicket, JOB_TICKET)
_status_fields = _fields_of(Status, STATUS)
_finding_fields = _fields_of(Finding, FINDING)
_step_fields = _fields_of(Step, STEP)


def _finding_document(finding: Finding) -> Document:
    document = _finding_fields(finding)
    document["outcome"] = finding.outcome.value
    for key in _NUMBERS:
        if document[key] is not None:
            document[key] = _value(document[key], finding.rule)
    document["do"] = [in_one_string(step) for step in finding.do]
    document["steps"] = [_step_fields(step) for step in finding.do]
    return document


def in_one_string(step: Step) -> str:
    """Return a step with its caution behind it, as `do` lists it."""
    return f"{step.says}{CAUTION}{step.caution}" if step.caution else step.says


def _value(value: float | str, rule: str) -> float | str:
    """Return numbers as finite floats, so that 3 and 3.0, or 0.0 and -0.0, give equal bytes."""
    if isinstance(value, str):
        return value
    try:
        number = float(value) + 0.0
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        refuse(f"a number of {rule} is not finite")
    return number


def to_bytes(verdict: Verdict, *, report_sha256: str | None = None) -> bytes:
    """Return the document as UTF-8 text, one key a line, in a fixed order.

    Characters that act instead of showing (controls, direction marks) are written as JSON escapes,
    and so are the lone surrogates that stand for a file name's undecodable bytes.
    """
    document = to_document(verdict, report_sha256=report_sha256)
    text = _ENCODER.encode(document) + "\n"
    if not text.replace("\n", "").isprintable():
        text = _NOT_PRINTABLE_ASCII.sub(_shown_or_escaped, text)
    return text.encode()


def _shown_or_escaped(match: re.Match[str]) -> str:
    character = match.group()
    return character if character.isprintable() else json.dumps(character)[1:-1]


@lru_cache(64)  # each step of filing reads its verdict again, for some fifty jobs side by side
def from_bytes(data: bytes) -> VerdictRecord:
    """Return what the document says, or refuse it. Equal bytes give one and the same record.

    Raises
    ------
    NotAVerdictError : cut, empty, not JSON, another format, a newer version than this one knows, a
        key missing, unknown or of another type, or a decision that its findings contradict
    """
    document = _parsed(data)
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        refuse(f'it does not say that its format is "{FORMAT}"')
    version = _version(document.get("version"))
    later = {key: list(was) for key, (since, was) in LATER.items() if version < since}
    check_shape(document, {key: DOCUMENT[key] for key in DOCUMENT if key not in later}, _WHOLE)
    document |= later
    verdict = _verdict(document)
    _check_decision(verdict)
    return VerdictRecord(verdict, document["report_sha256"])


def _parsed(data: bytes) -> object:
    if not data.endswith(b"}\n"):
        refuse("its end is missing" if data.strip() else "it is empty")
    try:
        return _DECODER.decode(data.decode())
    except NotAVerdictError:
        raise
    except (ValueError, RecursionError) as problem:
        refuse(f"it is not JSON text: {problem}", problem)


def _without_repeats(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) != len(pairs):
        refuse("a key stands twice in one object")
    return found


def _no_number(word: str) -> NoReturn:
    refuse(f"{word} is no number")


_DECODER = json.JSONDecoder(object_pairs_hook=_without_repeats, parse_constant=_no_number)


def _version(version: object) -> int:
    if type(version) is not int or version < 1:
        refuse("its version is not a whole number from 1")
    if version > VERSION:
        refuse(
            f"a newer gatekeeper wrote it: version {version}; this program reads up to {VERSION}"
        )
    return version


def _verdict(document: Document) -> Verdict:
    if document["measurements"] < 1:
        refuse("measurements is below 1")
    fields = {key: document[key] for key in document.keys() - _AROUND_THE_VERDICT}
    return Verdict(
        **fields
        | {
            "decision": _one_of(Decision, document["decision"]),
            "was": document["was"] and _one_of(Decision, document["was"]).value,
            "sheets": tuple(map(_sheet, document["sheets"])),
            "companions": _texts(document["companions"], "companions"),
            "job_tickets": tuple(map(_job_ticket, document["job_tickets"])),
            "status": tuple(map(_status, document["status"])),
            "notes": _texts(document["notes"], "notes"),
            "findings": tuple(map(_finding, document["findings"])),
        }
    )


Word = TypeVar("Word", Decision, Outcome)


def _one_of(words: type[Word], word: str) -> Word:
    try:
        return words(word)
    except ValueError:
        refuse(f"{word!r} is no {words.__name__.lower()}")


def _sheet(found: Document) -> JudgedSheet:
    check_shape(found, SHEET, "a sheet")
    return JudgedSheet(**found | {"separations": _texts(found["separations"], "separations")})


def _job_ticket(found: Document) -> JudgedTicket:
    check_shape(found, JOB_TICKET, "a job ticket")
    return JudgedTicket(**found)


def _status(found: Document) -> Status:
    check_shape(found, STATUS, "a status")
    return Status(**found)


def _finding(found: Document) -> Finding:
    check_shape(found, FINDING, "a finding")
    rule = found["rule"]
    steps = tuple(map(_step, found.pop("steps")))
    if found["do"] != [in_one_string(step) for step in steps]:
        refuse(f"do and steps of {rule} differ")
    found["outcome"] = _OUTCOMES.get(found["outcome"]) or _one_of(Outcome, found["outcome"])
    for key in _NUMBERS:
        if found[key] is not None:
            found[key] = _value(found[key], rule)
    found["do"] = steps
    return Finding(**found)


def _step(found: Document) -> Step:
    check_shape(found, STEP, "a step")
    return Step(**found)


def _texts(found: Iterable[object], place: str) -> tuple[str, ...]:
    texts = tuple(item for item in found if isinstance(item, str))
    if texts != tuple(found):
        refuse(f"{place} holds something else than text")
    return texts


def _check_decision(verdict: Verdict) -> None:
    if verdict.decision is Decision.HELD or verdict.concession is not None:
        return
    outcomes = {finding.outcome for finding in verdict.findings}
    if Outcome.PASS not in outcomes or outcomes & {Outcome.HOLD, Outcome.NOT_JUDGED}:
        refuse("it is approved although its findings do not say so and there is no concession")
