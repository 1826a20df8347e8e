"""A job ticket read back from the record of the rules that a job was judged by."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.rules.compile import field_of
from gatekeeper.rules.edits import path_of
from gatekeeper.rules.keys import Stricter
from gatekeeper.rules.merge import TICKET, Layer, merge
from gatekeeper.yamlfiles.places import Node, Place, Scalar, Series, Table

if TYPE_CHECKING:
    from gatekeeper.rules.difference import Record, Said


def ticket_in(record: Record) -> list[Layer]:
    """Return what tickets asked of the job, as one layer; none where there was no ticket."""
    merged: Table | None = None
    for rule, said in record.rules.items():
        if said.layer == TICKET:
            path = path_of(rule)
            table = _nested(path, _node(path, said))
            merged = merge(merged, table) if merged else table
    return [Layer(TICKET, merged)] if merged else []


def _node(path: tuple[str, ...], said: Said) -> Node:
    unit, stricter = field_of(path)
    place = _place(said)
    value = said.value.removesuffix(f" {unit}") if unit else said.value
    if stricter in {Stricter.SUBSET, Stricter.PRESENT} and path[0] != "required":
        return Series(tuple(Scalar(word, place) for word in value.split(", ")), place)
    return Scalar(value, place)


def _place(said: Said) -> Place:
    file, _, line = said.origin.rpartition(":")
    return Place(file, int(line), 1)


def _nested(path: tuple[str, ...], node: Node) -> Table:
    place = node.place
    for key in reversed(path):
        node = Table({key: node}, {key: place}, place)
    if not isinstance(node, Table):
        raise TypeError(path)
    return node
