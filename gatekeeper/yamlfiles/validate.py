"""Nodes → a typed model, or every problem with its place and in our own words."""

from __future__ import annotations

import types
import typing
from typing import TYPE_CHECKING, TypeVar

from pydantic import BaseModel, ValidationError

from gatekeeper.wording import listing, nearest, quoted
from gatekeeper.yamlfiles.places import FileProblem, Node, Place, Scalar, Series, Table, to_plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pydantic_core import ErrorDetails

Model = TypeVar("Model", bound=BaseModel)


def validate(
    model: type[Model], node: Node, lines: Sequence[str] = ()
) -> tuple[Model | None, list[FileProblem]]:
    """Return the model, or None and the problems. `lines` is the file's text, to show the line itself."""
    try:
        return model.model_validate(to_plain(node)), []
    except ValidationError as error:
        return None, [_problem(model, node, detail, lines) for detail in error.errors()]


def _problem(
    model: type[BaseModel], node: Node, detail: ErrorDetails, lines: Sequence[str]
) -> FileProblem:
    location = [part for part in detail["loc"] if part != "[key]"]
    place = _place(node, location, at_key=detail["type"] == "extra_forbidden")
    name, what, do = _words(model, node, location, detail)
    line_text = lines[place.line - 1] if 0 < place.line <= len(lines) else ""
    return FileProblem(place, name, what, do, line_text)


def _words(
    model: type[BaseModel], node: Node, location: list[int | str], detail: ErrorDetails
) -> tuple[str, str, str]:
    """Return name, sentence and advice for one of pydantic's answers; its own wording reaches nobody."""
    key = str(location[-1]) if location else ""
    if detail["type"] == "gatekeeper":
        context = detail["ctx"]
        return context["name"], context["what"], context["do"]
    if detail["type"] == "extra_forbidden":
        known = sorted(_keys_at(model, location[:-1]))
        near = nearest(key, known)
        return (
            "unknown-key",
            f"the key {quoted(key)} is not known here",
            f"write {near}" if near else "use one of: " + listing(known, 20),
        )
    if detail["type"] == "missing":
        return (
            "missing-key",
            f"the key {quoted(key)} is missing",
            f"add a line `{key}: …` to this block",
        )
    if detail["type"] in {"model_type", "dict_type", "model_attributes_type"}:
        found = _found(node, location)
        return (
            "not-a-block",
            f"a block of keys is wanted behind {quoted(key)}, found {found}",
            "write its keys indented on the lines below, or in {braces}",
        )
    if detail["type"] in {"list_type", "tuple_type"}:
        return (
            "not-a-list",
            f"a list is wanted behind {quoted(key)}, found {_found(node, location)}",
            "begin each entry with - on a line of its own, or write [one, two]",
        )
    bound = _BOUNDS.get(detail["type"])
    if bound:
        words, name = bound
        return (
            "out-of-range",
            f"{quoted(key)} must be {words} {detail['ctx'][name]:g}",
            "correct the number",
        )
    return "wrong-value", f"{quoted(key)} cannot be used: {detail['type']}", "correct the value"


_BOUNDS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}


def _found(node: Node, location: Sequence[int | str]) -> str:
    here = _walk(node, location)
    if here is None or (isinstance(here, Scalar) and here.text is None):
        return "nothing"
    names = {Scalar: "a single value", Series: "a list", Table: "a block of keys"}
    return names[type(here)]


def _walk(node: Node, location: Sequence[int | str]) -> Node | None:
    for part in location:
        if isinstance(node, Table) and part in node.entries:
            node = node.entries[str(part)]
        elif isinstance(node, Series) and isinstance(part, int) and part < len(node.items):
            node = node.items[part]
        else:
            return None
    return node


def _place(node: Node, location: Sequence[int | str], *, at_key: bool) -> Place:
    """Return the place of the longest part of the location that exists; missing keys have no node."""
    place = node.place
    for part in location:
        if isinstance(node, Table) and part in node.entries:
            place = node.key_places[str(part)]
            node = node.entries[str(part)]
        elif isinstance(node, Series) and isinstance(part, int) and part < len(node.items):
            node = node.items[part]
            place = node.place
        else:
            return place
    if at_key or isinstance(node, Table) or (isinstance(node, Scalar) and node.text is None):
        return place
    return node.place


def _keys_at(model: type[BaseModel], location: Sequence[int | str]) -> set[str]:
    """Return the keys that the model at this location knows, by walking the annotations."""
    here: object = model
    for part in location:
        candidates = _unwrapped(here)
        here = None
        for candidate in candidates:
            origin = typing.get_origin(candidate)
            if isinstance(candidate, type) and issubclass(candidate, BaseModel):
                field = candidate.model_fields.get(str(part))
                here = field.annotation if field else None
            elif origin in {dict, list, tuple}:
                here = typing.get_args(candidate)[-1 if origin is dict else 0]
    for candidate in _unwrapped(here):
        if isinstance(candidate, type) and issubclass(candidate, BaseModel):
            return set(candidate.model_fields)
    return set()


def _unwrapped(annotation: object) -> list[object]:
    """Return the members of an Optional or Annotated type, or the type itself."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _unwrapped(typing.get_args(annotation)[0])
    if origin in {typing.Union, types.UnionType}:
        return [inner for member in typing.get_args(annotation) for inner in _unwrapped(member)]
    return [annotation]
