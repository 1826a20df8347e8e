"""The text of a number → its value. Nothing is guessed: what could mean two things is refused.

Digits   ASCII only; `float` by itself would take `1_0`, `nan`, `inf` and digits of other scripts.
Marks    a point is the decimal mark. A comma is one too where it cannot part thousands: 2,91 is
         2.91, and 1,234 is refused unless the site or the profile declares what its comma means.
Bounds   `> 4.5` is at least 4.5. A word such as `OL` is a bound only where its limit is declared.
Source   common practice; ISO 80000-1, 7.3 allows point and comma as decimal mark (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import Bound
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Mapping

LONGEST = 40
"""Characters; no number that a person or a meter writes is longer."""

LAST_OF_ASCII = 0x7F

_NUMERAL = re.compile(
    r"(?P<compare>[<>]=?|[≤≥])?[ ]*"
    r"(?P<sign>[+−–-]?)"
    r"(?P<body>[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)"
    r"(?P<exponent>[eE][+−-]?[0-9]{1,3})?"
    r"[ ]*(?P<unit>[^\s0-9.,+−<>-][^0-9]*)?"
)
# A number that has one meaning however the file writes its numbers.
_USUAL = re.compile(
    r"[+-]?(?:[0-9]{1,9}(?:\.(?:[0-9]{1,2}|[0-9]{4,12}))?|0\.[0-9]{1,12})", re.ASCII
)
_NO_READING = re.compile(r"[-–—−_*+.=?#]+")
_OUT_OF_RANGE = frozenset(
    {"ol", "o.l", "o.l.", "over", "overrange", "over range", "ovr", "hi", "high"}
    | {"ul", "u.l", "u.l.", "under", "underrange", "under range", "lo", "low", "err", "error"}
)
_NOT_FINITE = frozenset({"nan", "inf", "infinity", "-inf", "+inf", "-infinity", "∞", "#n/a", "n/a"})
_AT_LEAST = frozenset({">", ">=", "≥"})
_LETTERS_FOR_DIGITS = frozenset({"O", "o", "I", "l"})
_MARKS = {".": ",", ",": "."}
_WRITE_PLAIN = "write it with a point and without marks between thousands, such as 2.91"


class Numeral(NamedTuple):
    """A finite value in the unit that stands behind it, if any does."""

    value: float
    bound: Bound
    unit: str


@dataclass(frozen=True, slots=True)
class Numerals:
    """How numbers are written in one file."""

    decimal_mark: str = ""  # "." or "," where declared; empty: each number must speak for itself
    thousands_marks: frozenset[str] = frozenset()
    commas_seen: bool = False  # the file writes decimal commas elsewhere, so 1.234 may be 1234
    bounds: Mapping[str, tuple[Bound, float]] = field(default_factory=dict)  # words, case-folded

    def read(self, text: str) -> Numeral:
        """Return the number that the text is.

        Raises
        ------
        RefusedValueError : it is none, or could be two
        """
        word = text.strip()
        if self.bounds and (declared := self.bounds.get(word.casefold())):
            return Numeral(declared[1], declared[0], "")
        found = (
            _NUMERAL.fullmatch(self._without_blank_marks(word)) if len(word) <= LONGEST else None
        )
        if found is None or found["unit"] in _LETTERS_FOR_DIGITS:
            raise _refusal(word)
        value = float(self._decimal(found["body"], word) + _ascii_minus(found["exponent"] or ""))
        if not isfinite(value):
            raise RefusedValueError(f"{quoted(word)} is too large for any reading", _WRITE_PLAIN)
        if found["sign"] in {"-", "−", "–"}:
            value = -value
        return Numeral(value, _bound(found["compare"]), (found["unit"] or "").rstrip())

    def usual(self, text: str) -> float | None:
        """Return the number when it is written as nearly all are, None when `read` must look."""
        return float(text) if _USUAL.fullmatch(text) and not self.bounds else None

    def _without_blank_marks(self, word: str) -> str:
        blank_marks = self.thousands_marks - {".", ","}
        if not blank_marks:
            return word
        inside = "".join(re.escape(mark) for mark in sorted(blank_marks))
        return re.sub(rf"(?<=[0-9])[{inside}](?=[0-9]{{3}}(?![0-9]))", "", word)

    def _decimal(self, body: str, word: str) -> str:
        """Return the digits with a point, or refuse when the marks can be read in two ways."""
        points, commas = body.count("."), body.count(",")
        if not points and not commas:
            return body
        last = max(body.rfind("."), body.rfind(","))
        if points + commas > 1:
            return _grouped(body, last, word)
        mark, before, after = body[last], body[:last], body[last + 1 :]
        could_be_thousands = len(after) == 3 and 0 < len(before) <= 3 and before[0] != "0"  # noqa: PLR2004
        if could_be_thousands and mark != self.decimal_mark:
            if mark in self.thousands_marks:
                return before + after
            if mark == "," or self.commas_seen or self.decimal_mark:
                raise _ambiguous(word, before, after)
        return f"{before or '0'}.{after}"


def _grouped(body: str, last: int, word: str) -> str:
    """Return a number of several marks: all but the last part thousands, and so may the last."""
    other = _MARKS[body[last]]
    whole, after = body[:last], body[last + 1 :]
    if body[last] in whole:  # 1,234,567: one mark twice can only part thousands
        whole, after, other = body, "", body[last]
    groups = whole.split(other)
    if not (0 < len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])):  # noqa: PLR2004
        raise RefusedValueError(f"{quoted(word)} has marks at odd places", _WRITE_PLAIN)
    return "".join(groups) + (f".{after}" if after else "")


def _ambiguous(word: str, before: str, after: str) -> RefusedValueError:
    return RefusedValueError(
        f"{quoted(word)} can be read as {before}.{after} and as {before}{after}",
        f"write {before}.{after}0 or {before}{after}, "
        "or declare the file's decimal mark in its reading profile",
    )


def _ascii_minus(exponent: str) -> str:
    return exponent.replace("−", "-")


def _bound(compare: str | None) -> Bound:
    if compare is None:
        return Bound.EXACT
    return Bound.AT_LEAST if compare in _AT_LEAST else Bound.AT_MOST


def _refusal(word: str) -> RefusedValueError:
    """Return the reason that fits best, for a text that is no number."""
    fold = word.casefold()
    shown = quoted(word, LONGEST)
    if fold in _OUT_OF_RANGE:
        return RefusedValueError(
            f"{shown} says that the meter was out of its range, but not of which limit",
            "write the limit, such as > 4.50, or declare the word in the meter's reading profile",
        )
    if _NO_READING.fullmatch(word):
        return RefusedValueError(
            f"{shown} says that the meter gave no reading",
            "read the patch again, write the limit such as > 4.50, or leave the cell empty",
        )
    if fold in _NOT_FINITE:
        return RefusedValueError(f"{shown} is not a finite number", "read the patch again")
    return RefusedValueError(f"{shown} is not a number{_hint(word)}", _WRITE_PLAIN)


def _hint(word: str) -> str:
    """Return what probably went wrong, as half a sentence, or nothing."""
    if len(word) > LONGEST:
        return f": it is longer than {LONGEST} characters"
    if odd := next((sign for sign in word if ord(sign) > LAST_OF_ASCII), ""):
        return f": {quoted(odd)} (U+{ord(odd):04X}) is no sign that numbers are written with here"
    return next((hint for pattern, hint in _HINTS if pattern.fullmatch(word)), "")


_HINTS = [
    (
        re.compile(r"[12][0-9]{3}-[0-9]{2}-[0-9]{2}(?:[ T].*)?"),
        ": it is a date, which is what some spreadsheets make of 2.9 typed into them",
    ),
    (re.compile(r"=.*"), ": a formula is not worked out here"),
    (
        re.compile(r"(?=.*[OoIl])(?=.*[0-9])[-+0-9OoIl.,]+"),
        ": it has a letter O, I or l where a digit belongs",
    ),
    (re.compile(r"[+-]?[0-9.,]*[0-9][.,]"), ": it ends in its decimal mark"),
    (re.compile(r".*[0-9]\s+[0-9].*"), ": with the blank inside it may be one number or two"),
]
"""What is recognised in a text that is no number, the most telling first."""
