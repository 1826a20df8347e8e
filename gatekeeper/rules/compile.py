"""Layers of one workflow and customer → `EffectiveRules`.

Reports every problem that shows only when the layers meet.
"""

from __future__ import annotations

import typing
from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from gatekeeper.rules.effective import EffectiveRules, Limit, Value
from gatekeeper.rules.merge import Layer, merge_layers
from gatekeeper.rules.models import Limits, Stricter, Tint
from gatekeeper.rules.sense import floor_problem, looser_than, whole_problems
from gatekeeper.yamlfiles.places import (
    BrokenFilesError,
    Scalar,
    Series,
    leaves,
    to_plain,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

Path = tuple[str, ...]


def compile_rules(
    *,
    workflow: str,
    customer: str,
    title: str,
    reading: str,
    dot_from: str,
    layers: Sequence[Layer],
    floors: Layer | None,
    notes: tuple[str, ...] = (),
) -> EffectiveRules:
    """Return the effective rules.

    Raises
    ------
    BrokenFilesError : limits that cross, that are missing, or that are looser than a floor
    """
    limits = _limits(layers)
    problems = list(whole_problems(limits))
    if not problems and floors is not None:
        problems = [
            floor_problem(limits[path], floor)
            for path, floor in _limits([floors]).items()
            if looser_than(limits[path], floor, field_of(path)[1])
        ]
    if problems:
        raise BrokenFilesError(problems)
    return EffectiveRules(
        workflow=workflow,
        customer=customer,
        title=title,
        reading=reading,
        dot_from=dot_from,
        limits=tuple(limits.values()),
        notes=notes,
    )


def _limits(layers: Sequence[Layer]) -> dict[Path, Limit]:
    layer_of = {
        (node.place.file, node.place.line, node.place.column): layer.name
        for layer in layers
        for _, node in leaves(layer.table)
    }
    found: dict[Path, Limit] = {}
    for path, node in leaves(merge_layers(list(layers))):
        unit, _ = field_of(path)
        place = node.place
        layer = layer_of[place.file, place.line, place.column]
        found[path] = Limit(path, _value(path, node), unit, place, layer)
    return dict(sorted(found.items(), key=lambda item: _section_order(item[0])))


def _section_order(path: Path) -> tuple[int, float, str]:
    sections = list(Limits.model_fields)
    nominal = float(path[1]) if path[0] == "tints" else 0.0
    return sections.index(path[0]), nominal, "" if path[0] == "tints" else ".".join(path[1:])


def field_of(path: Path) -> tuple[str, Stricter]:
    """Return unit and strictness of the limit at a path."""
    if path[0] == "required":
        return "", Stricter.PRESENT
    extra: Any = _field(path).json_schema_extra
    return extra["unit"], Stricter(extra["stricter"])


def _field(path: Path) -> FieldInfo:
    if path[0] == "tints":
        return Tint.model_fields[path[-1]]
    model: type[BaseModel] = Limits
    for key in path[:-1]:
        model = _block_of(model.model_fields[key])
    return model.model_fields[path[-1]]


def _block_of(field: FieldInfo) -> type[BaseModel]:
    """Return the model of a section, whose field is `Section | None`."""
    inner: type[BaseModel] = typing.get_args(field.annotation)[0]
    return inner


@cache
def _reader(path: Path) -> TypeAdapter[Any]:
    annotation: Any = _field(path).annotation
    return TypeAdapter(annotation)


def _value(path: Path, node: Scalar | Series) -> Value:
    """Return the value as its own field reads it; the layers were validated before."""
    if path[0] == "required":
        return "given"
    read = _reader(path).validate_python(to_plain(node))
    return float(read) if isinstance(read, int) else read
