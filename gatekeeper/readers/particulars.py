"""The head of a negative: fields are given one by one, by whatever reads the file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import FIELDS, Negative, Patch, SheetKind, Trace
from gatekeeper.wording import quoted

if TYPE_CHECKING:
    from gatekeeper.readers.remarks import Remarks
    from gatekeeper.readers.values import Value, ValueReader

_OF_THE_WHOLE_FILE = frozenset({"job", "customer", "workflow", "sheet", "separations"})


class Particulars:
    """Fields of one negative. A later block of the same file starts from those of the one above."""

    def __init__(
        self, values: ValueReader, remarks: Remarks, above: Particulars | None = None
    ) -> None:
        self.kind: SheetKind | None = above.kind if above else None
        self._values = values
        self._remarks = remarks
        self._above = dict(above.written) if above else {}
        self._found: dict[str, Value] = dict(above.found) if above else {}
        self._found.pop("separation", None)
        self._written: dict[str, tuple[str, Trace]] = {}

    @property
    def found(self) -> dict[str, Value]:
        """Values by attribute of `Negative`."""
        return self._found

    @property
    def written(self) -> dict[str, tuple[str, Trace]]:
        """Texts and places by field name, those of the blocks above included."""
        return {**self._above, **self._written}

    def give(self, name: str, text: str, trace: Trace) -> None:
        """Take a field of `FIELDS`; an empty text is a field not given."""
        text = text.strip()
        if not text or not self._is_new(name, text, trace):
            return
        self._written[name] = (text, trace)
        attribute = FIELDS[name].attribute
        self._found.pop(attribute, None)
        try:
            value = self._values.field(name, text, trace)
        except RefusedValueError as error:
            self._remarks.refused(name, error, trace)
            return
        if isinstance(value, SheetKind):
            self.kind = value
        else:
            self._found[attribute] = value

    def _is_new(self, name: str, text: str, trace: Trace) -> bool:
        """Whether the field has no value yet; a second, different one is a problem."""
        before = self._written.get(name)
        if before is None and name in _OF_THE_WHOLE_FILE:
            before = self._above.get(name)
        if before is None:
            return True
        if before[0] != text:
            self._found.pop(FIELDS[name].attribute, None)
            self._remarks.problem(
                f"{name} is given twice: {quoted(before[0])} ({before[1]}) and {quoted(text)}",
                "keep the right one; one file holds one job",
                trace,
            )
        return False

    def negative(self, patches: tuple[Patch, ...], **others: Value) -> Negative:
        """Return the negative with these patches; `others` outrank what the head says."""
        fields: dict[str, Any] = {**self._found, **others}
        return Negative(**fields, patches=patches)
