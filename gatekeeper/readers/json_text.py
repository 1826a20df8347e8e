"""JSON text → values that know their line and column, which the standard library's parser forgets.

Strict as RFC 8259 has it, and a little more: no equal keys in an object, a bounded depth. Numbers
stay the text they are, so that 2.90 is shown as written and 1e400 reaches the one place that reads
numbers.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.sheet import Trace
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

DEEPEST = 8

LONGEST = 20_000
"""Characters of one text, escapes as one: the matcher remembers something of each."""

MOST_VALUES = 400_000
"""Twenty for each patch that a sheet may have; each costs a hundred times its own bytes."""

_BLANK = re.compile(r"[ \t\n\r]*")
_PIECE = re.compile(
    r'(?P<text>"(?:[^"\\\x00-\x1f]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4})){0,20000}")'
    r"|(?P<number>-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)"
    r"|(?P<word>true|false|null)"
    r"|(?P<sign>[][{},:])"
)
_DO = "write it as JSON has it, or export the readings as CSV"
_WORDS = {"true": "yes", "false": "no", "null": None}


@dataclass(frozen=True, slots=True)
class JsonText:
    """A text, number or word as text; None for null."""

    text: str | None
    trace: Trace


@dataclass(frozen=True, slots=True)
class JsonList:
    """A list."""

    items: Sequence[JsonValue]
    trace: Trace


@dataclass(frozen=True, slots=True)
class JsonObject:
    """An object; its keys in the order written."""

    entries: Mapping[str, JsonValue]
    trace: Trace


JsonValue = JsonText | JsonList | JsonObject


def parse(text: str) -> JsonValue:
    """Return the one value that the text is.

    Raises
    ------
    UnreadableSheetError : not JSON, equal keys, nesting deeper than `DEEPEST`, a text longer than
        `LONGEST`, or more values than `MOST_VALUES`
    """
    parser = _Parser(text)
    value = parser.value(0)
    parser.expect_end()
    return value


class _Parser:
    """Reads from left to right; `_at` is the next character."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._line = 1
        self._line_start = 0
        self._values = 0

    def value(self, depth: int) -> JsonValue:
        kind, piece, trace = self._next()
        self._values += 1
        if self._values > MOST_VALUES:
            raise _error(f"there are more than {MOST_VALUES} values in it", trace)
        if depth > DEEPEST:
            raise _error(f"lists and objects are nested deeper than {DEEPEST}", trace)
        if kind == "text":
            return JsonText(json.loads(piece), trace)
        if kind == "number":
            return JsonText(piece, trace)
        if kind == "word":
            return JsonText(_WORDS[piece], trace)
        if piece == "[":
            return JsonList(self._items(depth), trace)
        if piece == "{":
            return JsonObject(self._entries(depth), trace)
        raise _error(f"a value is missing before {quoted(piece)}", trace)

    def expect_end(self) -> None:
        self._skip_blanks()
        if self._at < len(self._text):
            raise _error("something follows after the end", self._trace())

    def _items(self, depth: int) -> list[JsonValue]:
        items: list[JsonValue] = []
        if self._took("]"):
            return items
        while True:
            items.append(self.value(depth + 1))
            if self._comma_or("]"):
                return items

    def _entries(self, depth: int) -> dict[str, JsonValue]:
        entries: dict[str, JsonValue] = {}
        if self._took("}"):
            return entries
        while True:
            kind, piece, trace = self._next()
            if kind != "text":
                raise _error(f"a name in quotes is wanted, not {quoted(piece)}", trace)
            name = json.loads(piece)
            if name in entries:
                raise _error(f"the name {quoted(name)} stands twice in one object", trace)
            if not self._took(":"):
                raise _error(f"a colon is missing behind {quoted(name)}", self._trace())
            entries[name] = self.value(depth + 1)
            if self._comma_or("}"):
                return entries

    def _comma_or(self, closing: str) -> bool:
        """Take a comma or the closing bracket; whether it was the bracket."""
        if self._took(closing):
            return True
        if self._took(","):
            return False
        raise _error(f"a comma or {closing} is missing", self._trace())

    def _took(self, sign: str) -> bool:
        self._skip_blanks()
        if not self._text.startswith(sign, self._at):
            return False
        self._at += 1
        return True

    def _next(self) -> tuple[str, str, Trace]:
        self._skip_blanks()
        trace = self._trace()
        found = _PIECE.match(self._text, self._at)
        if found is None or found.lastgroup is None:
            rest = self._text[self._at : self._at + 20]
            if rest.startswith('"') and len(self._text) - self._at > LONGEST:
                raise _error(f"a text of more than {LONGEST} characters, or without an end", trace)
            raise _error(
                f"{quoted(rest)} is not JSON" if rest else "the file ends too early", trace
            )
        self._at = found.end()
        return found.lastgroup, found[0], trace

    def _skip_blanks(self) -> None:
        found = _BLANK.match(self._text, self._at)
        if found is None or not found[0]:
            return
        self._at = found.end()
        if line_ends := found[0].count("\n"):  # a text has none inside, so all pass by here
            self._line += line_ends
            self._line_start = found.start() + found[0].rindex("\n") + 1

    def _trace(self) -> Trace:
        return Trace(self._line, self._at - self._line_start + 1)


def _error(what: str, trace: Trace) -> UnreadableSheetError:
    return UnreadableSheetError(f"the file is not JSON: {what}", where=str(trace), do=_DO)
