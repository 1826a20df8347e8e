"""What the YAML parser could not understand, in the words of somebody who edits a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.yamlfiles.places import FileProblem, Place

if TYPE_CHECKING:
    from collections.abc import Callable

    import yaml


class _Case(NamedTuple):
    sign: str  # found in the parser's own message
    what: str
    do: str
    opens: bool = False  # the place where the trouble began says more than where it was noticed


_CASES = (
    _Case(
        "unknown escape",
        "a backslash in double quotes begins a special character, and this one is none",
        "use single quotes, in which a backslash is a backslash",
    ),
    _Case(
        "while scanning a quoted scalar",
        "a quotation mark is opened here and never closed",
        "close it, or put the other kind of quotes round text that holds one",
        opens=True,
    ),
    _Case(
        "while parsing a flow node",
        "a bracket or brace above is not closed, or an entry of its list is missing",
        "part the entries by single commas and close it with the same kind",
    ),
    _Case(
        "while parsing a flow",
        "a bracket or brace is opened here, and what follows does not close it as it should",
        "part the entries by commas and close it with the same kind",
        opens=True,
    ),
    _Case(
        "could not find expected ':'",
        "the line has no colon behind its key",
        "write `key: value`; a comment begins with #",
        opens=True,
    ),
    _Case(
        "mapping values are not allowed",
        "this colon has no place here: it is the second of its line, the line above has none, "
        "or its line stands too far to the right",
        "put quotes round text that holds a colon, or indent like the line above",
    ),
    _Case(
        "cannot start any token",
        "a value cannot begin with this character",
        "put quotes round the value",
    ),
    _Case(
        "while scanning an a",  # alias or anchor
        "a value cannot begin with & or *",
        "put quotes round the value",
        opens=True,
    ),
    _Case(
        "while parsing a block",
        "the line does not fit the indentation above it",
        "indent it exactly like the lines that belong beside it; an entry of a list begins with -",
    ),
)
_FOLLOWS = _Case(
    "",
    "something follows here that does not belong to the value before it",
    "put quotes round the whole value; for quotes inside use the other kind",
)
_ELSE = _Case(
    "",
    "the line cannot be understood",
    "check quotes, colons, brackets and indentation on this line and the one above",
)


def syntax_problem(error: yaml.MarkedYAMLError, at: Callable[[int, int], Place]) -> FileProblem:
    """Return the problem behind a parser's error; `at` gives places by line and column from 0."""
    said = f"{error.context or ''}: {error.problem or ''}"
    case = next((case for case in _CASES if case.sign in said), _ELSE)
    noticed, began = error.problem_mark, error.context_mark
    mark = (began or noticed) if case.opens else (noticed or began)
    place = at(mark.line, mark.column) if mark else at(0, 0)
    indentation = len(place.text) - len(place.text.lstrip())
    if "\t" in place.text[:indentation] and not case.opens:
        what = "the line is indented with a tab"
        return FileProblem(place, "tab", what, "indent with blanks: YAML takes no tab there")
    if case is _CASES[-1] and place.column - 1 > indentation:
        case = _FOLLOWS
    return FileProblem(place, "not-yaml", case.what, case.do)
