"""Rows of a negative → the negative as its sheet gave it, but for the places in the file.

Pure: no database is asked here. What `rows` writes, this reads.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from gatekeeper.sheet import (
    Bound,
    Moment,
    Negative,
    Number,
    Patch,
    PatchKind,
    Text,
    ZeroedOn,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

_CHOICES = {"zeroed_on": ZeroedOn}
_ATTRIBUTES = frozenset(Negative.__slots__)


def negative_of(particulars: Mapping[str, Any], rows: Iterable[Any]) -> Negative:
    """Return the negative with its head and its patches, in the order read."""
    head = {name: _said(name, value) for name, value in particulars.items() if name in _ATTRIBUTES}
    return Negative(**{**head, "patches": tuple(map(_patch, rows))})


def _said(name: str, value: Any) -> Any:  # noqa: ANN401 -- whatever JSON holds
    if name in _CHOICES:
        return _CHOICES[name](value)
    if isinstance(value, str):
        return Text(value)
    if "instant" in value:
        instant = value["instant"]
        return Moment(datetime.fromisoformat(instant), instant, value["has_time"])
    return Number(value["value"], value["written"])


def _patch(row: Any) -> Patch:  # noqa: ANN401 -- a row of `readings`
    bound = Bound(row.bound)
    return Patch(
        kind=PatchKind(row.kind),
        nominal=_number(row.nominal),
        density=_number(row.density, bound),
        dot_percent=_number(row.dot_read_percent, bound),
        transmittance_percent=_number(row.transmittance_percent, bound),
        length_mm=_number(row.length_mm, bound),
        where=row.where,
        name=row.name,
    )


def _number(value: float | None, bound: Bound = Bound.EXACT) -> Number | None:
    """Return the number; of a bound the row does not say which of a patch's numbers it is of."""
    return None if value is None else Number(value, repr(value), bound=bound)
