"""One row of a CGATS.17 table → which patch it is and which readings it carries."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.readers.cgats_names import (
    ALIASES,
    DENSITY_FIELDS,
    DEVICE_CHANNELS,
    UNNAMED_DENSITY_FIELDS,
)
from gatekeeper.readers.names import PATCH_WORDS
from gatekeeper.readers.numerals import Numerals
from gatekeeper.readers.patches import Cell
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import PatchKind, Trace
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.readers import cgats

_NAME = re.compile(
    r"(?P<kind>clear|solid|tint|length)(?![a-z])[\s_:-]*(?P<nominal>[0-9.]+)?\s*%?[\s_:-]*(?P<where>.*)",
    re.IGNORECASE,
)
_CARRIED = ("DOT", "TRANSMITTANCE", "LENGTH", "WHERE", "NAME")
_FULL = 100.0


class Identity(NamedTuple):
    """Which patch a row is; the nominal value as text, empty when the row states none."""

    kind: PatchKind
    nominal: Cell | None
    where: str = ""


class RowReader:
    """Knows the fields of one table and reads its rows."""

    def __init__(self, fields: Sequence[str], density_field: str | None) -> None:
        names = [ALIASES.get(field.upper(), field.upper()) for field in fields]
        self._at = {name: index for index, name in reversed(list(enumerate(names)))}
        self._density = density_field
        self._channels = [name for name in DEVICE_CHANNELS if name in self._at]

    def separation(self, row: list[cgats.Cell]) -> str:
        """Return what the row's own field says of the separation."""
        cell = self._cell(row, "SEPARATION")
        return cell.text.strip() if cell else ""

    def identity(self, row: list[cgats.Cell]) -> Identity | None:
        """Return which patch the row is, or None when it does not say.

        Raises
        ------
        RefusedValueError : it says two different things
        """
        stated = self._stated(row)
        by_ink = self._by_ink(row)
        if stated is None or by_ink is None:
            return stated or by_ink
        if stated.nominal is None and stated.kind is PatchKind.TINT:
            stated = stated._replace(nominal=by_ink.nominal)
        if stated.kind is not PatchKind.LENGTH and _disagree(stated, by_ink):
            raise RefusedValueError(
                f"the name says {_spoken(stated)}, the device values say {_spoken(by_ink)}",
                "correct one of the two",
            )
        return stated

    def cells(self, row: list[cgats.Cell], identity: Identity) -> list[Cell]:
        """Return the row's readings under the sheet's own column names."""
        found = [identity.nominal] if identity.nominal else []
        if self._density:
            found += self._named(row, self._density, "density")
        for name in _CARRIED:
            found += self._named(row, name, name.lower())
        columns = {cell.column for cell in found}
        if identity.where and "where" not in columns:
            found.append(Cell("where", identity.where, _trace(row[0])))
        if "name" not in columns:
            found += self._named(row, "SAMPLE_ID", "name")
        return found

    def _cell(self, row: list[cgats.Cell], name: str) -> cgats.Cell | None:
        index = self._at.get(name)
        return row[index] if index is not None and row[index].text.strip() else None

    def _named(self, row: list[cgats.Cell], name: str, column: str) -> list[Cell]:
        cell = self._cell(row, name)
        return [Cell(column, cell.text.strip(), _trace(cell))] if cell else []

    def _stated(self, row: list[cgats.Cell]) -> Identity | None:
        """Return what PATCH and NOMINAL, or the sample's name, say."""
        patch = self._cell(row, "PATCH")
        nominal = next(iter(self._named(row, "NOMINAL", "nominal")), None)
        if patch:
            kind = PATCH_WORDS.get(patch.text.strip().casefold())
            return Identity(kind, nominal) if kind else None
        for field in ("SAMPLE_NAME", "SAMPLE_ID"):
            cell = self._cell(row, field)
            if cell and (found := _NAME.fullmatch(cell.text.strip())):
                if nominal is None and found["nominal"]:
                    nominal = Cell("nominal", found["nominal"], _trace(cell))
                return Identity(PATCH_WORDS[found["kind"].casefold()], nominal, found["where"])
        return None

    def _by_ink(self, row: list[cgats.Cell]) -> Identity | None:
        """Return what the device values say: no ink is clear, 100 % of one solid, less a tint."""
        inked = []
        for name in self._channels:
            cell = row[self._at[name]]
            if value := Numerals().read(cell.text).value:
                inked.append((cell, value))
        if not self._channels or len(inked) > 1:
            return None
        if not inked:
            return Identity(PatchKind.CLEAR, None)
        cell, value = inked[0]
        if value == _FULL:
            return Identity(PatchKind.SOLID, None)
        return Identity(PatchKind.TINT, Cell("nominal", cell.text.strip(), _trace(cell)))

    def ink(self, row: list[cgats.Cell]) -> str:
        """Return the one channel that has ink in this row, or nothing."""
        inked = [name for name in self._channels if row[self._at[name]].text.strip("0. ")]
        return inked[0] if len(inked) == 1 else ""


def density_field(fields: Sequence[str], filter_word: str) -> tuple[str | None, str]:
    """Return the field that holds the density, and the filter that its name tells.

    Parameters
    ----------
    filter_word : what the header's FILTER says, empty when it says nothing

    Raises
    ------
    RefusedValueError : several could be meant, or the filter named is not among them
    """
    names = {field.upper() for field in fields}
    if "DENSITY" in names:
        return "DENSITY", ""
    found = {name: colour for name, colour in DENSITY_FIELDS.items() if name in names}
    word = filter_word.casefold()
    named = [
        name for name, colour in found.items() if colour in word.split() or name.casefold() == word
    ]
    if named:
        return named[0], found[named[0]]
    if found and any(colour in word.split() for colour in (*DENSITY_FIELDS.values(), "uv")):
        raise RefusedValueError(
            f"FILTER says {quoted(filter_word)}, but the table has only {' and '.join(found)}",
            "export the density that was read through this filter, or correct FILTER",
        )
    if "D_VIS" in found or len(found) == 1:
        name = "D_VIS" if "D_VIS" in found else next(iter(found))
        return name, found[name]
    if found:
        raise RefusedValueError(
            f"the table has {' and '.join(found)} and no FILTER says which one counts",
            'add a line such as FILTER "blue" to the header, or map the field in a reading profile',
        )
    return next((name for name in UNNAMED_DENSITY_FIELDS if name in names), None), ""


def _trace(cell: cgats.Cell) -> Trace:
    return Trace(cell.line, cell.column)


def _disagree(stated: Identity, by_ink: Identity) -> bool:
    if stated.kind is not by_ink.kind:
        # A wedge names its end steps tints of 0 and 100 percent, which is the same film.
        ends = {PatchKind.CLEAR: 0.0, PatchKind.SOLID: _FULL}
        return not (
            stated.kind is PatchKind.TINT
            and stated.nominal is not None
            and by_ink.kind in ends
            and Numerals().read(stated.nominal.text).value == ends[by_ink.kind]
        )
    if stated.kind is not PatchKind.TINT or stated.nominal is None or by_ink.nominal is None:
        return False
    return Numerals().read(stated.nominal.text).value != Numerals().read(by_ink.nominal.text).value


def _spoken(identity: Identity) -> str:
    return f"{identity.kind} {identity.nominal.text}" if identity.nominal else str(identity.kind)
