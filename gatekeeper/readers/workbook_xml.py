"""The XML of a workbook, element by element: no DTD, no entities, bounded depth and count."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.parsers import expat

from gatekeeper.errors import UnreadableSheetError

if TYPE_CHECKING:
    from collections.abc import Callable

    Start = Callable[[str, dict[str, str]], None]
    End = Callable[[str], None]

DEEPEST = 100
MOST_ELEMENTS = 3_000_000
_DO = "save the workbook again with a spreadsheet program, or export it as CSV"
_REFERENCE = re.compile(r"([A-Za-z]{1,3})([1-9][0-9]{0,6})", re.ASCII)
_A = ord("A")
_LETTERS = 26


def scan(data: bytes, start: Start, end: End | None = None) -> None:
    """Call `start` and `end` for every element, names without their namespace's prefix.

    Raises
    ------
    UnreadableSheetError : not well-formed, a DTD, or more than a workbook of readings has
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    depth = count = 0

    def started(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth, count = depth + 1, count + 1
        if depth > DEEPEST or count > MOST_ELEMENTS:
            raise _error("it is nested or filled beyond any sheet of readings")
        # By full name as well: two namespaces may each have an attribute of one local name.
        start(local(name), attributes | {local(key): value for key, value in attributes.items()})

    def ended(name: str) -> None:
        nonlocal depth
        depth -= 1
        if end is not None:
            end(local(name))

    def refuse_doctype(*_: object) -> None:
        raise _error("it has a document type declaration, which no spreadsheet program writes")

    parser.StartElementHandler = started
    parser.EndElementHandler = ended
    parser.StartDoctypeDeclHandler = refuse_doctype
    try:
        parser.Parse(data, True)  # noqa: FBT003 -- the parser's own signature
    except (expat.ExpatError, LookupError, ValueError) as error:  # or an encoding nobody knows
        raise _error("its XML is damaged") from error


def local(name: str) -> str:
    """Return an element's or attribute's name without its namespace."""
    return name.rpartition(" ")[2]


def position(reference: str) -> tuple[int, int] | None:
    """Return (row, column), counted from 1, of a cell's name such as C5; None when it is none."""
    found = _REFERENCE.fullmatch(reference)
    if found is None:
        return None
    column = 0
    for letter in found[1].upper():
        column = column * _LETTERS + ord(letter) - _A + 1
    return int(found[2]), column


def cell_name(row: int, column: int) -> str:
    """Return the name of a cell, such as C5, from numbers counted from 1; of a row for column 0."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, _LETTERS)
        letters = chr(_A + rest) + letters
    return f"{letters}{row}"


def _error(what: str) -> UnreadableSheetError:
    return UnreadableSheetError(f"the workbook cannot be trusted: {what}", do=_DO)
