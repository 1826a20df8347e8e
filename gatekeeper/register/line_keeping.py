"""A person's own lines, put back into text that a YAML writer has laid out anew. Pure.

A writer that keeps comments still joins a mapping in braces that runs over several lines, and loses
the comments between them. So it writes the text once without the change and once with it: where
both agree, the lines are those of the person. An entry that was changed is laid out anew, and the
comments that stood inside it stand above it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

_COMMENT = re.compile(
    r"""^(?P<before>(?:[^'"#]|'[^']*'|"[^"]*"|(?<=\S)#)*)(?P<comment>(?<!\S)#.*)$"""
)


@dataclass(frozen=True, slots=True)
class _Group:
    """Lines of the person, and the lines that the writer makes of them."""

    own: list[str]
    written: list[str]


def with_own_lines(own: str, rewritten: str, changed: str) -> str:
    """Return the changed text with the person's lines wherever the change has not touched them.

    Parameters
    ----------
    own : the text as a person wrote it
    rewritten : the same as the writer lays it out
    changed : the changed text as the writer lays it out
    """
    before, lines = rewritten.splitlines(keepends=True), changed.splitlines(keepends=True)
    at = _places(before, lines)
    result: list[str] = []
    number = done = 0
    for group in _groups(own.splitlines(keepends=True), before):
        span = range(number, number + len(group.written))
        number = span.stop
        if not span or not at.keys() >= set(span):
            result += _lost(group, changed)
            continue
        result += [*lines[done : at[span[0]]], *group.own]
        done = at[span[-1]] + 1
    return "".join([*result, *lines[done:]])


def _places(before: list[str], after: list[str]) -> dict[int, int]:
    """Return where each line that has not changed stands afterwards."""
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    return {
        begin + step: place + step
        for begin, place, size in matcher.get_matching_blocks()
        for step in range(size)
    }


def _groups(own: list[str], rewritten: list[str]) -> Iterator[_Group]:
    """Yield lines of the person with the lines that the writer makes of them, in order."""
    matcher = SequenceMatcher(None, own, rewritten, autojunk=False)
    for what, begin, end, start, stop in matcher.get_opcodes():
        mine, written = own[begin:end], rewritten[start:stop]
        if what == "equal":
            yield from (_Group([line], [line]) for line in mine)
        else:
            yield from _joined(mine, written)


def _joined(own: list[str], written: list[str]) -> list[_Group]:
    """Return each written line with the lines it was joined from; all in one where that fails."""
    rest, groups = list(own), []
    for line in written:
        taken: list[str] = []
        while rest and _bare(taken) != _bare([line]):
            taken.append(rest.pop(0))
        if _bare(taken) != _bare([line]):
            return [_Group(own, written)]
        groups.append(_Group(taken, [line]))
    return [_Group(own, written)] if rest else groups


def _bare(lines: list[str]) -> str:
    """Return the lines as one, without what a writer may change: spaces, breaks and comments."""
    texts = (_COMMENT.sub(r"\g<before>", line.rstrip("\n")) for line in lines)
    return "".join("".join(texts).split())


def _lost(group: _Group, changed: str) -> list[str]:
    """Return the comments of a changed entry that the writer has lost, as lines of their own."""
    indent = " " * (len(group.own[0]) - len(group.own[0].lstrip())) if group.own else ""
    found = (_COMMENT.match(line.rstrip("\n")) for line in group.own)
    comments = [match["comment"].rstrip() for match in found if match]
    return [f"{indent}{comment}\n" for comment in comments if comment not in changed]
