"""What a model says of the key at a location: which keys it knows, and in which unit."""

from __future__ import annotations

import types
import typing
from typing import TYPE_CHECKING

from pydantic import BaseModel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pydantic.fields import FieldInfo


def keys_at(model: type[BaseModel], location: Sequence[int | str]) -> set[str]:
    """Return the keys that the block at this location knows."""
    here: object = model
    for part in location:
        field = _field(here, part)
        here = field.annotation if field else _entry(here)
    block = _block(here)
    return set(block.model_fields) if block else set()


def unit_at(model: type[BaseModel], location: Sequence[int | str]) -> str:
    """Return the unit of the value at this location, empty where it has none."""
    here: object = model
    unit = ""
    for part in location:
        field = _field(here, part)
        if field:
            extra = field.json_schema_extra
            unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
        here = field.annotation if field else _entry(here)
    return unit


def _field(annotation: object, key: int | str) -> FieldInfo | None:
    block = _block(annotation)
    return block.model_fields.get(str(key)) if block else None


def _block(annotation: object) -> type[BaseModel] | None:
    members = _members(annotation)
    return next(
        (item for item in members if isinstance(item, type) and issubclass(item, BaseModel)), None
    )


def _entry(annotation: object) -> object:
    """Return the type of what a list or a table of entries holds, None for anything else."""
    for member in _members(annotation):
        arguments = typing.get_args(member)
        origin = typing.get_origin(member)
        if origin is dict:
            return arguments[1]
        if origin in {list, tuple}:
            return arguments[0]
    return None


def _members(annotation: object) -> list[object]:
    """Return the members of an Optional or Annotated type, or the type itself."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _members(typing.get_args(annotation)[0])
    if origin in {typing.Union, types.UnionType}:
        return [inner for member in typing.get_args(annotation) for inner in _members(member)]
    return [annotation]
