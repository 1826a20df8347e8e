"""A parsed file whose every key and value knows where it stands, and what is wrong with it."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.errors import RulesError
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

BEFORE_MARK = 60
"""Characters that are shown left of a mark; of a longer line its beginning is left out."""

WIDEST = 100
"""Characters of a line that are shown."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Line and column count from 1; `file` is relative to the site, to read the same everywhere."""

    file: str
    line: int
    column: int
    text: str = field(default="", compare=False, repr=False)  # the whole line, to be quoted

    @override
    def __str__(self) -> str:
        """Return file:line, which is enough to find it."""
        return f"{self.file}:{self.line}"

    @property
    def exact(self) -> str:
        """Return file:line:column, as editors understand it."""
        return f"{self.file}:{self.line}:{self.column}"

    def marked(self) -> list[str]:
        """Return the line and a second one with a mark under it; nothing for an empty line."""
        if not self.text.strip():
            return []
        start = max(self.column - 1 - BEFORE_MARK, 0)
        shown = plain(self.text.replace("\t", " ")[start:].rstrip(), WIDEST)
        ahead = shown[: self.column - 1 - start]
        return [shown, " " * sum(map(_columns, ahead)) + "^"]


def _columns(character: str) -> int:
    """Return how many columns of a terminal a character takes."""
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


@dataclass(frozen=True, slots=True)
class Scalar:
    """Text as written; None where a key has nothing behind it."""

    text: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class Series:
    """A list."""

    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Table:
    """A block of keys. `key_places` says where each key stands, `entries` what is behind it."""

    entries: dict[str, Node]
    key_places: dict[str, Place]
    place: Place


Node = Scalar | Series | Table


def to_plain(node: Node) -> object:
    """Return dicts, lists and text, the shape that a pydantic model validates."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Series):
        return [to_plain(item) for item in node.items]
    return {key: to_plain(value) for key, value in node.entries.items()}


def leaves(
    node: Node, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Scalar | Series]]:
    """Yield every value with its path of keys; a list is one value."""
    if isinstance(node, Table):
        for key, value in node.entries.items():
            yield from leaves(value, (*path, key))
    else:
        yield path, node


@dataclass(frozen=True, slots=True, order=True)
class FileProblem:
    """One mistake in one file: where, what, and what to do."""

    place: Place
    name: str  # short and fixed, so that it can be looked up: unknown-key, limits-cross …
    what: str
    do: str
    begins: date | None = field(default=None, compare=False)  # a day to come; None: it is one now

    @override
    def __str__(self) -> str:
        """Return the message as `rules check` prints it."""
        lines = [f"{self.name}: {self.what}", f"  where  {self.place.exact}"]
        lines += [f"         {line}" for line in self.place.marked()]
        lines.append(f"  do     {self.do}")
        return "\n".join(lines)


class BrokenFilesError(RulesError):
    """One or more files of the administrator are wrong; carries all problems at once."""

    def __init__(self, problems: Iterable[FileProblem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__(what="\n".join(str(problem) for problem in self.problems))
