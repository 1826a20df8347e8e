"""The keys of a verdict's document, version 2, and the types that their values may have.

The order of the keys is the order in which they are written. `schemas/verdict.schema.json` says the
same to other programs, with meanings and units; a test holds the two together.
"""

from __future__ import annotations

from types import NoneType
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from collections.abc import Mapping

Shape = dict[str, tuple[object, ...]]
"""Key → the types that its value may have; `bool` is no `int` here."""

_TEXT = (str,)
_TEXT_OR_NULL = (str, NoneType)
_VALUE = (float, int, str, NoneType)

DOCUMENT: Shape = {
    "format": _TEXT,
    "version": (int,),
    "ticket": _TEXT,
    "job": _TEXT,
    "workflow": _TEXT,
    "customer": _TEXT,
    "decision": _TEXT,
    "was": _TEXT,
    "concession": _TEXT_OR_NULL,
    "rules_fingerprint": _TEXT,
    "rules_text": _TEXT,
    "arrived": _TEXT,
    "program": _TEXT,
    "measurements": (int,),
    "report_sha256": _TEXT_OR_NULL,
    "sheets": (list,),
    "companions": (list,),
    "job_tickets": (list,),
    "status": (list,),
    "notes": (list,),
    "findings": (list,),
}
SHEET: Shape = {
    "name": _TEXT,
    "sha256": _TEXT,
    "ticket": _TEXT,
    "separations": (list,),
    "read_as": _TEXT,
    "current": (bool,),
    "dropped_as": _TEXT,
    "used_for": _TEXT,
}
JOB_TICKET: Shape = {
    "name": _TEXT,
    "sha256": _TEXT,
    "dropped_as": _TEXT,
    "current": (bool,),
}
STATUS: Shape = {"subject": _TEXT, "says": _TEXT, "separation": _TEXT}
FINDING: Shape = {
    "check": _TEXT,
    "rule": _TEXT,
    "outcome": _TEXT,
    "says": _TEXT,
    "separation": _TEXT,
    "measured": _VALUE,
    "limit": _VALUE,
    "unit": _TEXT,
    "where": _TEXT,
    "off": (float, int, NoneType),
    "uncertainty": (float, int, NoneType),
    "probability": (float, int, NoneType),
    "origin": _TEXT,
    "trace": _TEXT,
    "do": (list,),
    "steps": (list,),
}
STEP: Shape = {"order": (int,), "says": _TEXT, "caution": _TEXT}


LATER: Mapping[str, tuple[int, tuple[object, ...]]] = {"job_tickets": (2, ())}
"""Key → the version that brought it, and what it was before."""


class NotAVerdictError(ValueError):
    """The bytes hold no verdict of this program, or the verdict is one that must not be written."""

    def __init__(self, reason: str) -> None:
        super().__init__(f"no verdict of this program: {reason}")
        self.reason = reason


def refuse(reason: str, cause: Exception | None = None) -> NoReturn:
    """Raise the one error that reading and writing verdicts know."""
    raise NotAVerdictError(reason) from cause


def check_shape(found: object, shape: Shape, place: str) -> None:
    """Refuse what is no object with exactly the shape's keys and types; `place` names it."""
    if type(found) is not dict:
        refuse(f"{place} is not an object")
    if found.keys() != shape.keys():
        refuse(f"{place} lacks or adds the key {_first_odd_key(found, shape)!r}")
    for key, kinds in shape.items():
        if type(found[key]) not in kinds:
            refuse(f"{key} of {place} is a {type(found[key]).__name__}")


def _first_odd_key(found: Mapping[str, object], shape: Shape) -> str:
    return min(found.keys() ^ shape.keys())
