"""Rows of a negative → the negative as its sheet gave it, but for the places in the file.

Pure: no database is asked here. What `rows` writes, this reads.
"""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
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

PATCH = (
    "kind", "nominal", "density", "dot_read_percent", "transmittance_percent", "length_mm", "bound",
    "where", "name",
)  # fmt: skip
"""Columns of `readings` that make a patch, in the order that `patch_of` takes them."""

_KEPT = 65_536
"""Values that are kept once made: the same names and numbers come back in job after job."""


def negative_of(particulars: Mapping[str, Any], patches: Iterable[Patch]) -> Negative:
    """Return the negative with its head and its patches, in the order read."""
    head = {name: _said(name, value) for name, value in particulars.items() if name in _ATTRIBUTES}
    return Negative(**head, patches=tuple(patches))


def _said(name: str, value: Any) -> Any:  # noqa: ANN401 -- whatever JSON holds
    if name in _CHOICES:
        return _CHOICES[name](value)
    if isinstance(value, str):
        return _text(value)
    if "instant" in value:
        return _moment(value["instant"], value["has_time"])
    return Number(value["value"], value["written"])


@lru_cache(_KEPT)
def _text(value: str) -> Text:
    return Text(value)


@lru_cache(_KEPT)
def _moment(instant: str, has_time: bool) -> Moment:  # noqa: FBT001 -- a column
    return Moment(datetime.fromisoformat(instant), instant, has_time)


@lru_cache(_KEPT)
def patch_of(cells: tuple[Any, ...]) -> Patch:
    """Return the patch of a row's cells, those of `PATCH`."""
    kind, nominal, density, dot, transmittance, length, bound, where, name = cells
    limit = Bound(bound)
    return Patch(
        kind=PatchKind(kind),
        nominal=_number(nominal),
        density=_number(density, limit),
        dot_percent=_number(dot, limit),
        transmittance_percent=_number(transmittance, limit),
        length_mm=_number(length, limit),
        where=where,
        name=name,
    )


def _number(value: float | None, bound: Bound = Bound.EXACT) -> Number | None:
    """Return the number; of a bound the row does not say which of a patch's numbers it is of."""
    return None if value is None else Number(value, repr(value), bound=bound)
