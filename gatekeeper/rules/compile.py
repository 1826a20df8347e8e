"""Layers of one workflow and customer → `EffectiveRules`.

Reports every problem that shows only when the layers meet.
"""

from __future__ import annotations

import typing
from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from gatekeeper.rules.dates import changes_of
from gatekeeper.rules.effective import EffectiveRules, Limit, Value
from gatekeeper.rules.floors import floor_problem, looser_than
from gatekeeper.rules.keys import Stricter
from gatekeeper.rules.merge import SITE_FLOOR, Layer, keyed, merge_layers
from gatekeeper.rules.models import Limits, Tint
from gatekeeper.rules.needs import need_problems
from gatekeeper.rules.sense import (
    crossing_problems,
    layer_problems,
    main_limit_problems,
    value_problems,
)
from gatekeeper.rules.unmet import unmet_problems
from gatekeeper.yamlfiles.places import (
    BrokenFilesError,
    FileProblem,
    Scalar,
    Series,
    Table,
    leaves,
    to_plain,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

    from gatekeeper.register.register import Register

Path = tuple[str, ...]


def compile_rules(
    *,
    workflow: str,
    customer: str,
    title: str,
    reading: str,
    dot_from: str,
    layers: Sequence[Layer],
    floors: Sequence[Layer] = (),
    register: Register | None = None,
    notes: tuple[str, ...] = (),
) -> EffectiveRules:
    """Return the effective rules.

    Raises
    ------
    BrokenFilesError : limits that cross, are missing, are looser than a floor, or that nothing in
        the register can satisfy
    """
    merged = merge_layers(layers)
    limits = limits_of(layers)
    problems = [
        *value_problems(limits),
        *crossing_problems(limits),
        *main_limit_problems(limits, merged.key_places),
        *need_problems(limits),
        *_floor_problems(limits, floors),
        *(unmet_problems(merged, limits, register) if register else ()),
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


def check_floors(floors: Table) -> list[FileProblem]:
    """Return what is wrong with the floors by themselves."""
    problems = dict.fromkeys(layer_problems(floors))
    for block in (floors, *changes_of(floors)):
        limits = limits_of([Layer(SITE_FLOOR, keyed(block))])
        problems |= dict.fromkeys((*value_problems(limits), *crossing_problems(limits)))
    return list(problems)


def _floor_problems(limits: dict[Path, Limit], floors: Sequence[Layer]) -> Iterator[FileProblem]:
    for path, floor in limits_of(floors).items():
        stricter = field_of(path)[1]
        if looser_than(limits[path], floor, stricter):
            yield floor_problem(limits[path], floor, stricter)


def limits_of(layers: Sequence[Layer]) -> dict[Path, Limit]:
    """Return every limit of the merged layers by its path, in the order of the models."""
    layer_of = {node.place: layer.name for layer in layers for _, node in leaves(layer.table)}
    found: dict[Path, Limit] = {}
    for path, node in leaves(merge_layers(layers)):
        extra = _about(path)
        layer = layer_of[node.place]
        value = _value(path, node)
        found[path] = Limit(path, value, extra["unit"], node.place, layer, extra["is_setting"])
    return dict(sorted(found.items(), key=lambda item: _order(item[0])))


def _order(path: Path) -> tuple[int | float, ...]:
    """Return what sorts limits as the models have them; tints by nominal, fields as stated."""
    section = list(Limits.model_fields).index(path[0])
    if path[0] == "required":
        return (section,)
    if path[0] == "tints":
        return section, float(path[1]), list(Tint.model_fields).index(path[2])
    places: list[int | float] = [section]
    block = _block_of(Limits.model_fields[path[0]])
    for depth, key in enumerate(path[1:], 2):
        places.append(list(block.model_fields).index(key))
        if depth < len(path):
            block = _block_of(block.model_fields[key])
    return tuple(places)


def field_of(path: Path) -> tuple[str, Stricter]:
    """Return unit and strictness of the limit at a path."""
    extra = _about(path)
    return extra["unit"], Stricter(extra["stricter"])


def _about(path: Path) -> dict[str, Any]:
    """Return what `keys` says of the key at a path."""
    extra: dict[str, Any] = dict(_field(path).json_schema_extra or {})  # type: ignore[arg-type]
    return extra


def _field(path: Path) -> FieldInfo:
    if path[0] == "required":
        return Limits.model_fields[path[0]]
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
    read: Any = _reader(path).validate_python(to_plain(node))
    return float(read) if isinstance(read, int) else read
