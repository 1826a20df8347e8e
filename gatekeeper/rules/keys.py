"""What a key of a rule file is: a limit that must be answered, or a setting that says how to judge.

Both have a unit and a direction in which they tighten, so that floors can be compared.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from pydantic import Field


class Stricter(StrEnum):
    """Which way a value tightens; floors are compared this way."""

    HIGHER = "higher"
    LOWER = "lower"
    SUBSET = "fewer choices"
    PRESENT = "more entries"
    GUARDED = "guarded rather than plain"
    SAME = "neither way"  # a fact, such as the thickness of a plate: no layer may say otherwise


def limit(unit: str, stricter: Stricter, meaning: str) -> Any:  # noqa: ANN401 -- pydantic's own type of a field
    """Return a field that is a limit: a finding must answer it before a job can be approved."""
    return _key(unit, stricter, meaning, is_setting=False)


def setting(unit: str, stricter: Stricter, meaning: str) -> Any:  # noqa: ANN401
    """Return a field that says how limits are judged; nothing has to answer it."""
    return _key(unit, stricter, meaning, is_setting=True)


def section(meaning: str) -> Any:  # noqa: ANN401
    """Return a field that holds further keys, or tells entries of a list apart."""
    return Field(default=None, description=meaning)


def _key(unit: str, stricter: Stricter, meaning: str, *, is_setting: bool) -> Any:  # noqa: ANN401
    return Field(
        default=None,
        description=f"{meaning} ({unit})" if unit else meaning,
        json_schema_extra={"unit": unit, "stricter": stricter.value, "is_setting": is_setting},
    )
