"""The page of each section of the rules: what it asks and why, and its keys with unit and default.

The words are the docstrings of the checks and the descriptions in the models, so there is one place
to keep them right.
"""

from __future__ import annotations

import inspect
import typing
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import BaseModel

from gatekeeper.checks.registry import CHECKS
from gatekeeper.errors import UsageError
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.models import Limits
from gatekeeper.rules.sense import MAIN_LIMITS
from gatekeeper.schemas import KINDS
from gatekeeper.wording import did_you_mean, quoted
from gatekeeper.yamlfiles.annotations import unit_at
from gatekeeper.yamlfiles.places import Scalar, Table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

WHERE_USED = "where the section is used"
EVERY_KEY = "README.md in the site's folder"


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a section."""

    path: str  # below the section: min, ruling_lpi.min; empty for a section that is a list
    unit: str
    meaning: str
    default: str  # what holds where no file says otherwise


@dataclass(frozen=True, slots=True)
class Page:
    """What one section of the rules is for."""

    section: str
    summary: str
    text: str  # why, source, an example that passes and one that is held
    keys: tuple[Key, ...]


def sections() -> tuple[str, ...]:
    """Return the sections in the order of a report."""
    return tuple(Limits.model_fields)


def page_of(name: str) -> Page:
    """Return the page of a section, or of the section of a rule such as `solid_density.min`.

    Of a key that is no rule, such as `effective_from` or a key of site.yaml, what it means.

    Raises
    ------
    UsageError : there is no such section or key; names the nearest section
    """
    section = name.split(".", 1)[0]
    if section not in sections():
        keys = tuple(_keys_elsewhere(name))
        if keys:
            summary = f"{name} is a key of the site's files, and asks nothing of a negative"
            return Page(name, summary, f"{EVERY_KEY} says more of it.", keys)
        raise UsageError(f"no rule is called {quoted(name)}", do=did_you_mean(section, sections()))
    summary, _, text = _words(section).partition("\n")
    return Page(section, summary.strip(), text.strip("\n"), tuple(_keys(section)))


def _words(section: str) -> str:
    """Return the docstring of the section's check, or of its model where nothing is measured."""
    described = {check.NAME: check.__doc__ for check in CHECKS}
    words = described.get(section) or _block(section).__doc__ or ""
    return inspect.cleandoc(words)


def _block(section: str) -> type[BaseModel]:
    block = _inner(Limits.model_fields[section].annotation)
    return block or Limits


def _inner(annotation: object) -> type[BaseModel] | None:
    """Return the model that is, or is inside, `Section | None` or `list[Section] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = map(_inner, typing.get_args(annotation))
    return next((found for found in inner if found), None)


def _keys(section: str) -> Iterator[Key]:
    if _inner(Limits.model_fields[section].annotation) is None:
        meaning = Limits.model_fields[section].description or ""
        yield Key("", "", meaning, "nothing is asked")
        return
    yield from _keys_of(_block(section), (section,))


def _keys_of(block: type[BaseModel], path: tuple[str, ...]) -> Iterator[Key]:
    for name, field in block.model_fields.items():
        here = (*path, name)
        inner = _inner(field.annotation)
        if inner:
            yield from _keys_of(inner, here)
        else:
            unit = unit_at(block, (name,))
            meaning = (field.description or "").removesuffix(f" ({unit})")
            yield Key(".".join(here[1:]), unit, meaning, _default(here))


def _keys_elsewhere(name: str) -> Iterator[Key]:
    """Yield each meaning of a key that is no section, with the kinds of files that know it."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for kind, model in KINDS.items():
        for path, block, field in _fields_beside(model, ()):
            if name in {path[-1], ".".join(path)}:
                unit = unit_at(block, path[-1:])
                meaning = (field.description or "").removesuffix(f" ({unit})")
                places = found.setdefault((unit, meaning, _without_file(field)), [])
                places.append(f"{kind} file ({'.'.join(path)})")
    for (unit, meaning, default), places in found.items():
        yield Key("", unit, f"{meaning}; in: {', '.join(places)}", default)


def _fields_beside(
    block: type[BaseModel], path: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], type[BaseModel], FieldInfo]]:
    for name, field in block.model_fields.items():
        if name in Limits.model_fields:
            continue
        yield (*path, name), block, field
        inner = _inner(field.annotation)
        if inner:
            yield from _fields_beside(inner, (*path, name))


def _without_file(field: FieldInfo) -> str:
    """Return what holds where no file says otherwise."""
    if field.is_required():
        return "needed"
    value = field.get_default(call_default_factory=True)
    return str(value) if isinstance(value, (str, int, float)) and value != "" else "nothing"


def _default(path: tuple[str, ...]) -> str:
    always, where_used = built_in_defaults()
    if value := _stated(always, path):
        return value
    if value := _stated(where_used, path):
        return f"{value} {WHERE_USED}"
    if path in MAIN_LIMITS:
        return f"needed {WHERE_USED}"
    return "needed in each entry" if path[0] == "tints" else "nothing is asked"


def _stated(table: Table, path: tuple[str, ...]) -> str:
    node: object = table
    for key in path:
        node = node.entries.get(key) if isinstance(node, Table) else None
    return node.text or "" if isinstance(node, Scalar) else ""
