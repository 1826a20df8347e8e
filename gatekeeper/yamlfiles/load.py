"""Text of a YAML file → nodes with places. Scalars stay text, as written: `1e-3`, `010`, `on`.

Refused, because they surprise people or attack programs: anchors, aliases, merge keys, tags, equal
keys, several documents, tabs in the indentation, deep nesting and very large files.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import yaml

from gatekeeper.wording import quoted
from gatekeeper.yamlfiles.places import (
    BrokenFilesError,
    FileProblem,
    Node,
    Place,
    Scalar,
    Series,
    Table,
)
from gatekeeper.yamlfiles.syntax import syntax_problem

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_BYTES = 1_000_000
MAX_DEPTH = 12

_LINE_END = re.compile("\r\n|[\n\r\x85\u2028\u2029]")  # as YAML 1.1 has them
_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
_NOTHING = {"", "~", "null", "Null", "NULL"}

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class CannotRead:
    """Stands for the content of a file that is there and could not be read."""

    reason: str


Content = bytes | CannotRead


def load(content: Content, file: str) -> Table:
    """Return the file's top block of keys.

    Raises
    ------
    BrokenFilesError : the content is not YAML, or uses what is refused; with every problem found
    """
    table, problems = parse(content, file)
    if problems:
        raise BrokenFilesError(problems)
    return table


def parse(content: Content, file: str) -> tuple[Table, list[FileProblem]]:
    """Return the file's top block of keys, and the keys in it that cannot be used.

    Raises
    ------
    BrokenFilesError : there is no block of keys to be had
    """
    source = _Source(file, _text(content, file))
    builder = _Builder(source)
    root = builder.build(_compose(source))
    if not isinstance(root, Table):
        what = "the file has no block of keys at its top"
        raise _broken(root.place, "no-keys", what, "write `key: value` lines")
    return root, builder.problems


class _Source:
    """The text of a file and the place of each of its lines."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.lines = _LINE_END.split(text)

    def at(self, line: int, column: int) -> Place:
        """Return a place by line and column from 0, as YAML counts them."""
        text = self.lines[line] if line < len(self.lines) else ""
        return Place(self.file, line + 1, column + 1, text)

    def of(self, thing: yaml.Node | yaml.Event) -> Place:
        """Return where a node or an event begins."""
        mark = thing.start_mark
        return self.at(mark.line, mark.column) if mark else self.at(0, 0)


def _text(content: Content, file: str) -> str:
    top = Place(file, 1, 1)
    if isinstance(content, CannotRead):
        do = "give the user that runs gatekeeper the right to read it"
        raise _broken(top, "unreadable-file", f"the file cannot be read: {content.reason}", do)
    if len(content) > MAX_BYTES:
        what = f"the file has more than {MAX_BYTES} bytes"
        raise _broken(top, "file-too-large", what, "split it into several files")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = Place(file, content[: error.start].count(b"\n") + 1, 1)
        raise _broken(
            place, "not-utf-8", "the file is not UTF-8 text", "save it as UTF-8"
        ) from error
    if found := _UNPRINTABLE.search(text):
        ahead = _LINE_END.split(text[: found.start()])
        place = _Source(file, text).at(len(ahead) - 1, len(ahead[-1]))
        what = f"the character U+{ord(found[0]):04X} cannot be seen and has no place here"
        raise _broken(place, "odd-character", what, "delete it; it stands at the mark")
    return text


def _compose(source: _Source) -> yaml.Node:
    try:
        problems = list(_refused(source))
        if problems:
            raise BrokenFilesError(problems)
        node = yaml.compose(source.text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        raise BrokenFilesError([syntax_problem(error, source.at)]) from error
    if node is None:
        raise _broken(source.at(0, 0), "empty-file", "the file is empty", "fill it in or remove it")
    return node


def _refused(source: _Source) -> Iterator[FileProblem]:
    """Look at the events first: aliases can contain themselves, deep nesting ends the parser."""
    depth = documents = 0
    for event in yaml.parse(source.text, Loader=_Loader):
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        documents += isinstance(event, yaml.DocumentStartEvent)
        place = source.of(event)
        if depth > MAX_DEPTH:
            what = f"nesting is deeper than {MAX_DEPTH} levels"
            yield FileProblem(place, "too-deep", what, "no file needs so many: check the brackets")
            return
        if documents > 1:
            what = "a second document begins here"
            yield FileProblem(place, "second-document", what, "delete the line of dashes")
            return
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            what = "an anchor or alias (& or *) is not used here"
            do = "write the value out; text that begins with & or * needs quotes"
            yield FileProblem(place, "anchor", what, do)
        if tag := getattr(event, "tag", None):
            what = f"a tag ({quoted(tag)}) is not used here"
            do = "delete it; text that begins with ! needs quotes"
            yield FileProblem(place, "tag", what, do)


def _broken(place: Place, name: str, what: str, do: str) -> BrokenFilesError:
    return BrokenFilesError([FileProblem(place, name, what, do)])


class _Builder:
    """Turns composed nodes into ours, collecting problems instead of stopping at the first."""

    def __init__(self, source: _Source) -> None:
        self.source = source
        self.problems: list[FileProblem] = []

    def build(self, node: yaml.Node) -> Node:
        place = self.source.of(node)
        if isinstance(node, yaml.MappingNode):
            return self.table(node, place)
        if isinstance(node, yaml.SequenceNode):
            return Series(tuple(self.build(item) for item in node.value), place)
        return Scalar(None if _is_nothing(node) else node.value, place)

    def table(self, node: yaml.MappingNode, place: Place) -> Table:
        entries: dict[str, Node] = {}
        key_places: dict[str, Place] = {}
        for key, key_place, value in self.pairs(node):
            built = self.build(value)
            if key in entries:
                what = f"the key {quoted(key)} stands here and in line {key_places[key].line}"
                self.problem(key_place, "key-twice", what, "keep one of the two")
            else:
                entries[key], key_places[key] = built, key_place
        return Table(entries, key_places, place)

    def pairs(self, node: yaml.MappingNode) -> Iterator[tuple[str, Place, yaml.Node]]:
        for key_node, value in node.value:
            place = self.source.of(key_node)
            if not isinstance(key_node, yaml.ScalarNode) or _is_nothing(key_node):
                do = "write a word before the colon; a word in braces needs quotes"
                self.problem(place, "odd-key", "a key must be a word", do)
            elif key_node.value == "<<" and not key_node.style:
                what = "merge keys (<<) are not used here"
                self.problem(place, "merge-key", what, "write the keys out")
            else:
                yield key_node.value, place, value

    def problem(self, place: Place, name: str, what: str, do: str) -> None:
        self.problems.append(FileProblem(place, name, what, do))


def _is_nothing(node: yaml.Node) -> bool:
    """Whether a scalar says nothing; in quotes it is text."""
    return isinstance(node, yaml.ScalarNode) and node.value in _NOTHING and not node.style
