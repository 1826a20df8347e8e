"""Patterns that an administrator writes, kept from running for ever on what strangers drop.

Python's matcher tries every way to divide a text; a repeat inside a repeat, (a+)+, has more ways
than there is time for. Such patterns are refused when the profile loads, and only short lines are
matched.
"""

from __future__ import annotations

import re
from functools import lru_cache

LONGEST_LINE = 300
"""Characters; longer lines are matched by no pattern."""

_MOST_WILD = (
    3  # repeats of "anything" in one pattern; each further one multiplies the time by the line
)
_PIECES = re.compile(
    r"\\.|\[\^?\]?(?:\\.|[^\]\\])*\]|\(\?P<\w+>|\(\?[:=!<]?[=!]?|[()]|[*+?]|\{\d*,?\d*\}|.",
    re.DOTALL,
)
_BOUNDED = re.compile(r"\{\d{1,2}(?:,\d{1,2})?\}")
_COMPARING = frozenset("<>+-−.,")


class UnsafePatternError(ValueError):
    """A pattern that is not one, or that could take for ever."""


@lru_cache(maxsize=256)
def compiled(pattern: str) -> re.Pattern[str]:
    """Return the pattern, blanks in the text standing for themselves, without case."""
    return re.compile(pattern, re.IGNORECASE | re.ASCII)


def check(pattern: str) -> re.Pattern[str]:
    """Return the compiled pattern.

    Raises
    ------
    UnsafePatternError : it does not compile, repeats a repeat, or has too many repeats of anything
    """
    try:
        result = compiled(pattern)
    except (re.error, OverflowError, RecursionError) as error:
        raise UnsafePatternError(f"it is no pattern: {error}") from error
    if _repeats_a_repeat(pattern):
        raise UnsafePatternError("it repeats a group that has a repeat or a choice inside")
    if len(re.findall(r"(?<!\\)\.[*+]", pattern)) > _MOST_WILD:
        raise UnsafePatternError(f"it has more than {_MOST_WILD} repeats of anything (.* or .+)")
    return result


def _repeats_a_repeat(pattern: str) -> bool:
    """Whether a group that is repeated without bound holds a repeat or a choice."""
    open_groups = [False]  # for each group that is open: whether it holds a repeat or a choice
    closed = False  # the same of the group that has just been closed
    for found in _PIECES.finditer(pattern):
        piece = found[0]
        if piece.startswith("("):
            open_groups.append(False)
        elif piece == ")":
            closed = open_groups.pop() if len(open_groups) > 1 else False
            open_groups[-1] |= closed
            continue
        elif piece in {"*", "+"} or (piece[0] == "{" and piece[-1] == "}" and len(piece) > 1):
            if closed and not _BOUNDED.fullmatch(piece):
                return True
            open_groups[-1] = True
        elif piece in {"|", "?"}:
            open_groups[-1] = True
        closed = False
    return False


def cuts_a_number(text: str, start: int, end: int) -> bool:
    """Whether a part of a text ends inside a number, so that 2,91 would come out as 2."""
    before, after = text[start - 1 : start], text[end : end + 1]
    inside = text[start:end]
    if not inside or not (inside[0] in "0123456789.,<>+-−" and inside[-1] in "0123456789.,"):
        return False
    more_after = after.isdigit() or (
        after != "" and after in ".," and text[end + 1 : end + 2].isdigit()
    )
    return more_after or before.isdigit() or (before != "" and before in _COMPARING)
