"""Layers → one table of rules, merged by key, nominal and field name; never by place in a list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.wording import shortest
from gatekeeper.yamlfiles.fields import number_of
from gatekeeper.yamlfiles.places import Node, Place, Scalar, Series, Table

if TYPE_CHECKING:
    from collections.abc import Sequence

NO_LIMITS = frozenset(
    {"workflow", "title", "reading", "dot_from", "changes", "effective_from", "until", "job"}
)
"""Keys beside the limits: whose they are, how a workflow is judged, and when a block holds."""


BUILT_IN, SITE_FLOOR, WORKFLOW, CUSTOMER, TICKET = LAYERS = (
    "built in",
    "site floor",
    "workflow",
    "customer",
    "ticket",
)
"""Names of layers, in the order in which each is laid over the one before."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One source of limits."""

    name: str
    table: Table


def keyed(table: Table) -> Table:
    """Return the table with tints keyed by nominal and required fields keyed by name."""
    entries = {key: value for key, value in table.entries.items() if key not in NO_LIMITS}
    tints = entries.get("tints")
    if isinstance(tints, Series):
        entries["tints"] = _by_nominal(tints)
    required = entries.get("required")
    if isinstance(required, Series | Scalar):
        entries["required"] = _by_name(required)
    return Table(entries, table.key_places, table.place)


def nominal_key(text: str) -> str:
    """Return one spelling for equal nominals: 50, 50.0 and 5e1 are the same tint."""
    return shortest(number_of(text))


def _by_nominal(tints: Series) -> Table:
    entries: dict[str, Node] = {}
    places: dict[str, Place] = {}
    for item in tints.items:
        nominal = item.entries.get("nominal") if isinstance(item, Table) else None
        if not isinstance(item, Table) or not isinstance(nominal, Scalar) or nominal.text is None:
            continue  # sense.py has said so with the place
        key = nominal_key(nominal.text)
        rest = {name: value for name, value in item.entries.items() if name != "nominal"}
        entries[key] = Table(rest, item.key_places, item.place)
        places[key] = nominal.place
    return Table(entries, places, tints.place)


def _by_name(required: Series | Scalar) -> Table:
    items = required.items if isinstance(required, Series) else (required,)
    names = {
        " ".join(item.text.casefold().split()): item.place
        for item in items
        if isinstance(item, Scalar) and item.text
    }
    return Table(
        {name: Scalar("given", place) for name, place in names.items()}, names, required.place
    )


def merge(base: Table, over: Table) -> Table:
    """Return both tables in one; where both set a value, `over` wins, and keeps its place."""
    entries = dict(base.entries)
    places = dict(base.key_places)
    for key, value in over.entries.items():
        below = entries.get(key)
        if isinstance(below, Table) and isinstance(value, Table):
            entries[key] = merge(below, value)
        else:
            entries[key] = value
        places[key] = over.key_places[key]
    return Table(entries, places, over.place)


def merge_layers(layers: Sequence[Layer]) -> Table:
    """Return all layers in one table, later ones over earlier ones."""
    merged = Table({}, {}, Place("", 1, 1))
    for layer in layers:
        merged = merge(merged, layer.table)
    return merged
