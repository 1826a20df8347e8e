"""Rows of a negative → the negative as its sheet gave it, but for the places in the file.

Pure: no database is asked here. What `rows` writes, this reads.
"""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

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
    from collections.abc import Mapping

_CHOICES = {"zeroed_on": ZeroedOn}
_ATTRIBUTES = frozenset(Negative.__slots__)

PATCH = (
    "kind", "nominal", "density", "dot_read_percent", "transmittance_percent", "length_mm", "bound",
    "where", "name",
)  # fmt: skip
"""Columns of `readings` that make a patch."""

Cells = tuple[Any, ...]
"""A row of them, in that order."""

_KEPT = 65_536
"""Values that are kept once made: the same names and numbers come back in job after job."""


@lru_cache(_KEPT)
def one_of(cells: Cells) -> Cells:
    """Return one row for all that are equal: they cost no room, and are compared at a glance."""
    return cells


class PastFilm(NamedTuple):
    """A negative as its rows have it: most are told apart, or found alike, without more work."""

    head: Mapping[str, Any]  # what was said, by the attribute's name
    patches: tuple[Cells, ...] = ()  # in the order read

    @property
    def negative(self) -> Negative:
        """The negative with its head and its patches."""
        said = self.head.items()
        head = {name: _said(name, value) for name, value in said if name in _ATTRIBUTES}
        return Negative(**head, patches=tuple(map(_patch, self.patches)))


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
def _patch(cells: Cells) -> Patch:
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
