"""Nodes → a typed model, or every problem with its place and in our own words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeVar

from pydantic import BaseModel, ValidationError

from gatekeeper.wording import listing, nearest, quoted
from gatekeeper.yamlfiles.annotations import keys_at, unit_at
from gatekeeper.yamlfiles.places import FileProblem, Node, Place, Scalar, Series, Table, to_plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from pydantic_core import ErrorDetails

Model = TypeVar("Model", bound=BaseModel)
Location = tuple[int | str, ...]

_SHOWN_KEYS = 20


def validate(model: type[Model], node: Table) -> tuple[Model | None, list[FileProblem]]:
    """Return the model, or None and every problem."""
    # Pydantic takes an empty value for one that was never given, and a limit would be no limit.
    empty = dict(_empty_values(node))
    try:
        read = model.model_validate(to_plain(node))
    except ValidationError as error:
        found = [_problem(model, node, detail) for detail in error.errors()]
        problems = [problem for problem in found if problem.place not in empty]
        return None, [*empty.values(), *problems]
    return (None, list(empty.values())) if empty else (read, [])


def _empty_values(node: Table) -> Iterator[tuple[Place, FileProblem]]:
    for key, value in node.entries.items():
        place = node.key_places[key]
        if isinstance(value, Scalar) and value.text is None:
            yield place, _no_value(key, place)
        for inner in value.items if isinstance(value, Series) else (value,):
            if isinstance(inner, Table):
                yield from _empty_values(inner)


def _no_value(key: str, place: Place) -> FileProblem:
    if re.fullmatch("[0-9]+", key):  # {min: 2,70} is a min of 2 and a key 70
        what = f"a comma parts entries here, so {quoted(key)} stands by itself"
        return FileProblem(place, "decimal-comma", what, "write the decimal mark as a point")
    do = "write one behind the colon or delete the key"
    return FileProblem(place, "no-value", f"the key {quoted(key)} has no value", do)


def _problem(model: type[BaseModel], node: Node, detail: ErrorDetails) -> FileProblem:
    location = tuple(part for part in detail["loc"] if part != "[key]")
    at_key = detail["type"] == "extra_forbidden" or "[key]" in detail["loc"]
    place = _place(node, location, at_key=at_key)
    name, what, do = _words(model, node, location, detail)
    return FileProblem(place, name, what, do)


def _words(
    model: type[BaseModel], node: Node, location: Location, detail: ErrorDetails
) -> tuple[str, str, str]:
    """Return name, sentence and advice for pydantic's answer, whose own wording reaches nobody."""
    kind = detail["type"]
    key = next((part for part in reversed(location) if isinstance(part, str)), "")
    if kind == "gatekeeper":
        return _own_words(detail["ctx"], unit_at(model, location))
    if kind == "extra_forbidden":
        return _unknown_key(key, sorted(keys_at(model, location[:-1])))
    if kind == "missing":
        what = f"the key {quoted(key)} is missing"
        return "missing-key", what, f"add a line `{key}: …` to this block"
    if kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        what = f"{quoted(key)} must be {words} {detail['ctx'][bound]:g}"
        return "out-of-range", what, "correct the number"
    relation = "as an entry of" if isinstance(location[-1], int) else "behind"
    return _wrong_kind(kind, f"{relation} {quoted(key)}", _found(node, location), quoted(key))


def _wrong_kind(kind: str, behind: str, found: str, key: str) -> tuple[str, str, str]:
    if kind in _BLOCK_WANTED:
        what = f"a block of keys is wanted {behind}, found {found}"
        return "not-a-block", what, "write its keys indented on the lines below, or in {braces}"
    if kind in _LIST_WANTED:
        what = f"a list is wanted {behind}, found {found}"
        return "not-a-list", what, "begin each entry with - on its own line, or write [one, two]"
    return "wrong-value", f"{key} cannot be used: {kind}", "correct the value"


_BLOCK_WANTED = {"model_type", "dict_type", "model_attributes_type"}
_LIST_WANTED = {"list_type", "tuple_type"}
_BOUNDS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _own_words(context: Mapping[str, str], unit: str) -> tuple[str, str, str]:
    """Return what one of our fields said; a number also hears its unit."""
    do = context["do"]
    if unit and context["name"] == "not-a-number":
        do += "; it is a density" if unit == "density" else f"; it is in {unit}"
    return context["name"], context["what"], do


def _unknown_key(key: str, known: Sequence[str]) -> tuple[str, str, str]:
    near = nearest(key, known)
    do = f"write {near}" if near else "use one of: " + listing(known, _SHOWN_KEYS)
    return "unknown-key", f"the key {quoted(key)} is not known here", do


def _found(node: Node, location: Location) -> str:
    here: Node | None = node
    for part in location:
        here = _inside(here, part) if here else None
    if here is None or (isinstance(here, Scalar) and here.text is None):
        return "nothing"
    names = {Scalar: "a single value", Series: "a list", Table: "a block of keys"}
    return names[type(here)]


def _inside(node: Node, part: int | str) -> Node | None:
    if isinstance(node, Table):
        return node.entries.get(str(part))
    if isinstance(node, Series) and isinstance(part, int):
        return node.items[part]
    return node if part == 0 else None  # a single value stands for a list of one


def _place(node: Node, location: Location, *, at_key: bool) -> Place:
    """Return the place of the longest part of the location that exists: missing keys have none."""
    place = node.place
    for part in location:
        inner = _inside(node, part)
        if inner is None:
            return place
        place = node.key_places[str(part)] if isinstance(node, Table) else inner.place
        node = inner
    is_empty = isinstance(node, Scalar) and node.text is None
    return place if at_key or is_empty or isinstance(node, Table) else node.place
