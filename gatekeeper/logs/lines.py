"""A record as one line of `key=value`, in the quoting that is called logfmt.

    at=2026-11-24T14:03:11.250+00:00 level=info from=attendant job=1044 message="1044 approved"

A line cannot be forged: whatever breaks a line, hides or quotes is written as an escape. Source:
common practice; there is no standard of it.
"""

from __future__ import annotations

import logging
import re
import unicodedata
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.logs.fields import fields_of
from gatekeeper.wording import HIDDEN

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST_MESSAGE = 4_000
LONGEST_TRACE = 16_000
"""Characters; of a trace the end is kept, which names the error."""

_BARE = re.compile(r"[^\s\"'=\\]+")
_SHORT = {"\n": "\\n", "\r": "\\r", "\t": "\\t", '"': '\\"', "\\": "\\\\"}


class KeyValue(logging.Formatter):
    """Lays a record out as one line."""

    @override
    def format(self, record: logging.LogRecord) -> str:
        """Return the line, without its end."""
        return " ".join(f"{name}={_quoted(text)}" for name, text in _pairs(record))


def _pairs(record: logging.LogRecord) -> Iterator[tuple[str, str]]:
    moment = datetime.fromtimestamp(record.created, UTC)
    yield "at", moment.isoformat(timespec="milliseconds")
    yield "level", record.levelname.lower()
    yield "from", record.name.removeprefix("gatekeeper.")
    yield from fields_of(record).items()
    yield "message", message_of(record)
    trace = trace_of(record)
    if trace:
        yield "trace", trace


def message_of(record: logging.LogRecord) -> str:
    """Return what a record says, bounded; a call with wrong arguments is still a line."""
    try:
        message = record.getMessage()
    except Exception:  # noqa: BLE001 -- whatever an argument's own text raises
        message = str(record.msg)
    if len(message) > LONGEST_MESSAGE:
        return message[: LONGEST_MESSAGE - 1] + "…"
    return message


def trace_of(record: logging.LogRecord) -> str:
    """Return the traceback that belongs to a record, "" where there is none."""
    if not record.exc_info or record.exc_info[0] is None:
        return ""
    trace = logging.Formatter().formatException(record.exc_info)
    return trace if len(trace) <= LONGEST_TRACE else "…" + trace[1 - LONGEST_TRACE :]


def escaped(text: str) -> str:
    """Return text in which nothing breaks a line, hides, or cannot be encoded."""
    return "".join(_escape(character) for character in text)


def _quoted(text: str) -> str:
    safe = escaped(text)
    return safe if safe == text and _BARE.fullmatch(text) else f'"{safe}"'


def _escape(character: str) -> str:
    if character in _SHORT:
        return _SHORT[character]
    if unicodedata.category(character) not in HIDDEN:
        return character
    code = ord(character)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"  # noqa: PLR2004 -- the plane
