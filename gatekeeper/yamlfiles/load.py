"""Text of a YAML file → nodes with places. Scalars stay text: `1e-3`, `14:30`, `010` and `on` arrive as written.

Refused, because they surprise people or attack programs: anchors, aliases, merge keys, tags, equal keys, several
documents, tabs in the indentation, deep nesting and very large files.
"""

from __future__ import annotations

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

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_BYTES = 1_000_000
MAX_DEPTH = 12

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def load(content: bytes, file: str) -> Table:
    """Return the file's top block of keys, or raise `BrokenFilesError` with every problem found."""
    if len(content) > MAX_BYTES:
        raise _broken(
            file, 1, 1, "file-too-large", f"the file has {len(content)} bytes", "split it"
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _broken(
            file, line, 1, "not-utf-8", "the file is not UTF-8 text", "save it as UTF-8"
        ) from error
    builder = _Builder(file, text.splitlines())
    root = builder.build(_compose(text, file))
    if builder.problems:
        raise BrokenFilesError(builder.problems)
    if not isinstance(root, Table):
        raise _broken(
            file,
            1,
            1,
            "no-keys",
            "the file has no block of keys at its top",
            "write `key: value` lines",
        )
    return root


def _compose(text: str, file: str) -> yaml.Node:
    try:
        _refuse_before_building(text, file)
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        raise _syntax(error, text, file) from error
    except yaml.YAMLError as error:
        raise _broken(
            file, 1, 1, "not-yaml", str(error).splitlines()[0], "remove the character"
        ) from error
    if node is None:
        raise _broken(file, 1, 1, "empty-file", "the file is empty", "fill it in or remove it")
    return node


def _refuse_before_building(text: str, file: str) -> None:
    """Look at the event stream first: aliases can contain themselves and deep nesting ends the parser."""
    depth = 0
    lines = text.splitlines()
    for event in yaml.parse(text, Loader=_Loader):
        mark = event.start_mark
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            what, name = "an anchor or alias (& or *) is not used here", "anchor"
        elif getattr(event, "tag", None):
            what, name = f"a tag ({quoted(str(event.tag))}) is not used here", "tag"
        elif isinstance(event, yaml.CollectionStartEvent) and (depth := depth + 1) > MAX_DEPTH:
            what, name = f"nesting is deeper than {MAX_DEPTH} levels", "too-deep"
        else:
            if isinstance(event, yaml.CollectionEndEvent):
                depth -= 1
            continue
        place = Place(file, mark.line + 1, mark.column + 1)
        raise BrokenFilesError(
            [FileProblem(place, name, what, "write the value out", _line(lines, place))]
        )


def _syntax(error: yaml.MarkedYAMLError, text: str, file: str) -> BrokenFilesError:
    mark = error.problem_mark or error.context_mark
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1, 1)
    lines = text.splitlines()
    line_text = _line(lines, place)
    do = "check quotes, colons, brackets and indentation on this line and the one above"
    if "\t" in line_text[: len(line_text) - len(line_text.lstrip())]:
        do = "indent with blanks: YAML takes no tab there"
    what = (error.problem or "the line cannot be understood").strip()
    return BrokenFilesError([FileProblem(place, "not-yaml", what, do, line_text)])


def _broken(file: str, line: int, column: int, name: str, what: str, do: str) -> BrokenFilesError:
    return BrokenFilesError([FileProblem(Place(file, line, column), name, what, do)])


def _line(lines: list[str], place: Place) -> str:
    return lines[place.line - 1] if 0 < place.line <= len(lines) else ""


class _Builder:
    """Turns composed nodes into ours, collecting problems instead of stopping at the first."""

    def __init__(self, file: str, lines: list[str]) -> None:
        self.file = file
        self.lines = lines
        self.problems: list[FileProblem] = []

    def build(self, node: yaml.Node) -> Node:
        place = self.place(node)
        if isinstance(node, yaml.MappingNode):
            return self.table(node, place)
        if isinstance(node, yaml.SequenceNode):
            return Series(tuple(self.build(item) for item in node.value), place)
        nothing = node.value in {"", "~", "null"} and not node.style  # quoted, it is text
        return Scalar(None if nothing else node.value, place)

    def table(self, node: yaml.MappingNode, place: Place) -> Table:
        entries: dict[str, Node] = {}
        key_places: dict[str, Place] = {}
        for key, key_place, value in self.pairs(node):
            if key in entries:
                self.problem(
                    key_place,
                    "key-twice",
                    f"the key {quoted(key)} stands here and in line {key_places[key].line}",
                    "keep one of the two",
                )
                continue
            entries[key], key_places[key] = self.build(value), key_place
        return Table(entries, key_places, place)

    def pairs(self, node: yaml.MappingNode) -> Iterator[tuple[str, Place, yaml.Node]]:
        for key_node, value in node.value:
            place = self.place(key_node)
            if not isinstance(key_node, yaml.ScalarNode):
                self.problem(
                    place, "odd-key", "a key must be a word", "write a word before the colon"
                )
            elif key_node.value == "<<" and not key_node.style:
                self.problem(
                    place, "merge-key", "merge keys (<<) are not used here", "write the keys out"
                )
            else:
                yield key_node.value, place, value

    def problem(self, place: Place, name: str, what: str, do: str) -> None:
        self.problems.append(FileProblem(place, name, what, do, _line(self.lines, place)))

    def place(self, node: yaml.Node) -> Place:
        return Place(self.file, node.start_mark.line + 1, node.start_mark.column + 1)
