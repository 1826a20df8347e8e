"""One way to write each fact, so that equal facts have equal bytes and can be sealed."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


def storable(text: str) -> str:
    """Return text that every database takes: what cannot be written as UTF-8, and NUL, as escapes.

    File names may hold bytes that are no text; Python carries them as lone surrogates.
    """
    if text.isascii() and "\0" not in text:
        return text
    return text.encode("utf-8", "backslashreplace").decode("utf-8").replace("\0", "\\x00")


_LONGEST_BYTES = 600
_KEPT_CHARACTERS = 120


def indexable(text: str) -> str:
    """Return text that every database can keep in an index; a longer one ends in its digest.

    PostgreSQL takes some 2,700 bytes an entry, of several columns; a cell of a sheet may hold more.
    """
    text = storable(text)
    content = text.encode()
    if len(content) <= _LONGEST_BYTES:
        return text
    return f"{text[:_KEPT_CHARACTERS]}… {hashlib.sha256(content).hexdigest()}"


def canonical(document: object) -> str:
    """Return the one JSON for these facts: keys sorted, ASCII, no blanks, finite numbers only."""
    return json.dumps(
        document, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False
    )


def utc_text(moment: datetime) -> str:
    """Return the moment in UTC, ISO 8601, with microseconds always: the text sorts as time does."""
    if moment.tzinfo is None:
        raise ValueError(moment)
    return moment.astimezone(UTC).isoformat(timespec="microseconds")
