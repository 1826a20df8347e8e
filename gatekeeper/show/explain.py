"""How a file was read: by what, and where in it each value stood."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from gatekeeper.sheet import FIELDS, Moment, Number, Patch, Sheet, Text
from gatekeeper.show.lines import table
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.sheet import Negative

_READINGS = ("nominal", "density", "dot_percent", "transmittance_percent", "length_mm")
_NAMES = {field.attribute: name for name, field in FIELDS.items() if field.attribute}


def explanation(name: str, sheet: Sheet) -> list[str]:
    """Return lines that say how the file was read and where each value came from."""
    lines = [f"{plain(name)}: read as {plain(sheet.read_as)}, a {sheet.kind.value} sheet"]
    lines += [f"  note     {plain(note, 300)}" for note in sheet.notes]
    for problem in sheet.problems:
        lines.append(f"  problem  {plain(problem.says, 300)} ({problem.trace})")
    for number, negative in enumerate(sheet.negatives, 1):
        label = negative.separation_name or f"number {number}"
        lines += ["", f"negative {plain(label)}", *table(list(_head(negative)), indent="  ")]
        lines += table(list(_rows(negative)), indent="  ")
    return lines


def _head(negative: Negative) -> Iterator[tuple[str, str, str]]:
    for entry in fields(negative):
        value = getattr(negative, entry.name)
        name = _NAMES.get(entry.name)
        if name is None or value is None:
            continue
        if isinstance(value, Text | Number | Moment):
            yield name, _said(value), str(value.trace)
        else:
            yield name, str(value.value), ""


def _said(value: Text | Number | Moment) -> str:
    if isinstance(value, Text):
        return plain(value.value)
    if isinstance(value, Moment):
        return f"{plain(value.written)} = {value.instant.isoformat(timespec='minutes')}"
    number = (
        f"{value.bound.value} {value.value:g}" if value.bound != "exact" else f"{value.value:g}"
    )
    return number if plain(value.written) == number else f"{plain(value.written)} = {number}"


def _rows(negative: Negative) -> Iterator[tuple[str, str, str]]:
    for patch in negative.patches:
        for name in _READINGS:
            value: Number | None = getattr(patch, name)
            if value is not None:
                yield _label(patch, name), _said(value), str(value.trace)


def _label(patch: Patch, reading: str) -> str:
    nominal = f" {patch.nominal.value:g}" if patch.nominal else ""
    where = f" {plain(patch.where)}" if patch.where else ""
    return f"{patch.kind.value}{nominal}{where}: {reading.split('_', maxsplit=1)[0]}"
