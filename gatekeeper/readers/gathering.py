"""Rows and lines of a meter's file, each a few texts under the sheet's names, → negatives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.readers.names import FIELD_NAMES
from gatekeeper.readers.particulars import Particulars
from gatekeeper.readers.patch_finder import PatchFinder
from gatekeeper.readers.patches import Cell, PatchMaker
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.values import READINGS
from gatekeeper.sheet import NOWHERE, Moment, Negative, SheetKind, Trace

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gatekeeper.readers.profile import Profile
    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.readers.values import ValueReader
    from gatekeeper.sheet import Patch

_OF_A_PATCH = (*READINGS, "nominal", "where", "name")


class _OfOne:
    """What has been gathered of one negative."""

    def __init__(self, particulars: Particulars, finder: PatchFinder) -> None:
        self.particulars = particulars
        self.finder = finder
        self.patches: list[Patch] = []
        self.measured: Moment | None = None  # the latest, for a meter stamps every reading
        self.has_rows = False


class Gathering:
    """Takes rows in the order of the file and keeps negatives apart by the separation they name.

    What is said before any separation holds for all of them.
    """

    def __init__(self, profile: Profile, values: ValueReader, remarks: Remarks) -> None:
        self._profile = profile
        self._values = values
        self._remarks = remarks
        self._maker = PatchMaker(values, remarks)
        self._common = self._one(Particulars(values, remarks))
        for name, text in profile.constants.items():
            self._common.particulars.give(name, text, NOWHERE)
        self._named: dict[str, _OfOne] = {}
        self._current = self._common

    def take(self, texts: Mapping[str, Cell], trace: Trace) -> None:
        """Take one row or line: texts that are not empty, under the sheet's names."""
        if self._is_ignored(texts):
            return
        if separation := texts.get("separation"):
            self._current = self._of(separation)
            self._remarks.separation = separation.text
        one = self._current
        for name, cell in texts.items():
            if name == "measured":
                self._take_measured(one, cell)
            elif name in FIELD_NAMES and name != "separation":
                one.particulars.give(name, cell.text, cell.trace)
        if any(name in texts for name in READINGS):
            self._take_reading(one, texts, trace)

    @property
    def kind(self) -> SheetKind | None:
        """The kind of sheet that the file or the profile states, if one does."""
        kinds = (one.particulars.kind for one in (*self._named.values(), self._common))
        return next((kind for kind in kinds if kind), None)

    def negatives(self) -> list[Negative]:
        """Return the negatives gathered, in the order of their first row."""
        ones = list(self._named.values())
        if self._common.has_rows or not ones:
            ones.insert(0, self._common)
        return [self._negative(one) for one in ones]

    def _negative(self, one: _OfOne) -> Negative:
        if missing := one.finder.missing():
            self._remarks.problem(missing, "measure just the patches listed, in their order")
        measured = one.measured or self._common.measured
        others = {"measured": measured} if measured else {}
        return one.particulars.negative(tuple(one.patches), **others)

    def _one(self, particulars: Particulars) -> _OfOne:
        return _OfOne(particulars, PatchFinder(self._profile.patches, self._values.numerals))

    def _of(self, separation: Cell) -> _OfOne:
        name = separation.text.casefold()
        if name not in self._named:
            above = self._common.particulars
            one = self._one(Particulars(self._values, self._remarks, above))
            one.particulars.give("separation", separation.text, separation.trace)
            self._named[name] = one
        return self._named[name]

    def _is_ignored(self, texts: Mapping[str, Cell]) -> bool:
        patch = texts.get("patch") or texts.get("name")
        return patch is not None and self._current.finder.is_ignored(patch.text)

    def _take_measured(self, one: _OfOne, cell: Cell) -> None:
        try:
            moment = self._values.field("measured", cell.text, cell.trace)
        except RefusedValueError as error:
            self._remarks.refused("measured", error, cell.trace)
            return
        if isinstance(moment, Moment) and (
            one.measured is None or moment.instant > one.measured.instant
        ):
            one.measured = moment

    def _take_reading(self, one: _OfOne, texts: Mapping[str, Cell], trace: Trace) -> None:
        one.has_rows = True
        patch = texts.get("patch") or texts.get("name")
        nominal = texts.get("nominal")
        try:
            found = one.finder.find(patch.text if patch else "", nominal.text if nominal else "")
        except RefusedValueError as error:
            self._remarks.problem(error.says, error.do, patch.trace if patch else trace)
            return
        cells = [texts[name]._replace(column=name) for name in _OF_A_PATCH if name in texts]
        place = patch.trace if patch else trace
        cells += [Cell(name, text, place) for name, text in found.says.items() if name not in texts]
        made = self._maker.make(found.kind, cells, trace)
        if made is not None:
            one.patches.append(made)
