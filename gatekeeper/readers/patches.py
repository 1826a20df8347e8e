"""The cells of one row of readings → a `Patch`, whatever format the row came from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.values import READINGS, words_of
from gatekeeper.sheet import NOWHERE, Patch, PatchKind, Trace

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.readers.values import ValueReader

_READ = frozenset(READINGS.values())


class Cell(NamedTuple):
    """A text that is not empty, the column that it belongs to, and its place."""

    column: str
    text: str
    trace: Trace


class PatchMaker:
    """Makes patches of one file; what cannot be used goes to its remarks."""

    def __init__(self, values: ValueReader, remarks: Remarks) -> None:
        self._values = values
        self._remarks = remarks

    def make(
        self,
        kind: PatchKind,
        cells: Iterable[tuple[str, str, Trace]],
        trace: Trace = NOWHERE,
        separation: str = "",
    ) -> Patch | None:
        """Return the patch, or None when the row holds nothing that could be judged.

        Parameters
        ----------
        cells : each a `Cell`, or a plain tuple of the same, which a long table makes in less time
        """
        found: dict[str, Any] = {}
        refused = set()
        for column, text, place in cells:
            try:
                if attribute := READINGS.get(column):
                    found[attribute] = self._values.reading(column, text, place)
                elif column == "nominal":
                    of_length = kind is PatchKind.LENGTH
                    found[column] = self._values.nominal(text, place, of_length=of_length)
                else:
                    found[column] = words_of(text)
            except RefusedValueError as error:
                refused.add(column)
                self._remarks.refused(column, error, place, separation)
        return self._judge(kind, found, refused, trace, separation)

    def _judge(
        self,
        kind: PatchKind,
        found: dict[str, Any],
        refused: set[str],
        trace: Trace,
        separation: str,
    ) -> Patch | None:
        if "nominal" in refused:
            return None
        if "nominal" not in found and (kind is PatchKind.TINT or kind is PatchKind.LENGTH):
            unit = "percent" if kind is PatchKind.TINT else "millimetres"
            self._remarks.problem(
                f"a {kind} without its nominal value",
                f"write the {unit} that it should be",
                trace,
                separation,
            )
            return None
        if not refused and _READ.isdisjoint(found):
            self._remarks.note(f"a {kind} without a reading was left out ({trace})")
            return None
        return Patch(kind, trace=trace, **found)
