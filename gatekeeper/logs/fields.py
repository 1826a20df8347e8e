"""The fields of a line: job, workflow, verdict and whatever else a search may ask for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from logging import LogRecord

_KEY = "gatekeeper_fields"


def fields(**values: str) -> dict[str, Mapping[str, str]]:
    """Return what a call of the log takes as `extra`; empty values are left out."""
    return {_KEY: {name: value for name, value in values.items() if value}}


def fields_of(record: LogRecord) -> Mapping[str, str]:
    """Return the fields that a line was given, none for a line of another library."""
    given: Mapping[str, str] = getattr(record, _KEY, {})
    return given
