"""Fields for what a site declares of foreign files: code pages, and how dates are written."""

from __future__ import annotations

import codecs
import re
from datetime import UTC, datetime
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema

from gatekeeper.wording import quoted
from gatekeeper.yamlfiles.fields import WordField, list_of, refuse

_PROBE = datetime(2026, 11, 9, 8, 7, 6, tzinfo=UTC)  # no two of its numbers are alike
_YEAR = re.compile(r"%[YyGcx]")


def code_page_of(name: str) -> str:
    """Return the name if it is that of an encoding of text, one byte or more a character."""
    try:
        b" ".decode(codecs.lookup(name).name)  # refuses codecs that are not of text
    except (LookupError, UnicodeDecodeError) as error:
        what = f"{quoted(name)} is no code page"
        raise refuse("unknown-code-page", what, "write one such as windows-1252") from error
    return name


def tells_whole_day(pattern: str) -> bool:
    """Return whether a `strptime` pattern tells day, month and year.

    Raises
    ------
    ValueError : it is no pattern
    """
    has_year = _YEAR.search(pattern.replace("%%", "")) is not None
    # A day without a year is tried beside one: Python is about to refuse it by itself.
    tried = pattern if has_year else f"%Y {pattern}"
    back = datetime.strptime(_PROBE.strftime(tried), tried).replace(tzinfo=UTC)
    return has_year and back.date() == _PROBE.date()


def date_format_of(pattern: str) -> str:
    """Return the `strptime` pattern if it tells a whole day."""
    do = "write it as strptime has it, with day, month and year: %d.%m.%Y %H:%M"
    try:
        is_whole = tells_whole_day(pattern)
    except ValueError as error:
        raise refuse("bad-date-format", f"{quoted(pattern)} is no date format", do) from error
    if not is_whole:
        raise refuse("bad-date-format", f"{quoted(pattern)} does not tell a whole day", do)
    return pattern


CodePageField = Annotated[WordField, AfterValidator(code_page_of)]
DateFormatsField = Annotated[
    tuple[Annotated[WordField, AfterValidator(date_format_of)], ...],
    BeforeValidator(list_of),
    WithJsonSchema({"type": ["array", "string"], "items": {"type": "string"}, "minItems": 1}),
]
