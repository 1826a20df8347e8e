"""Curves built from wedges, in state/curves/: one document a curve, and beside it its tables.

The documents can be made again from the wedges that were filed; what nothing else knows is the
minute of an acceptance, which stands in a file of its own beside the curve.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING

from gatekeeper.control.curve_document import NotACurveError, curve_bytes, read_curve
from gatekeeper.control.curve_text import as_cgats, as_csv, as_typed_text
from gatekeeper.errors import UsageError
from gatekeeper.filing.names import folder_name
from gatekeeper.wording import did_you_mean, fold, listing, quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gatekeeper.control.curve import BuiltCurve
    from gatekeeper.filing.disk import Disk

CURVES = "curves"
_LARGEST = 1_000_000
_ACCEPTED = ".accepted.json"


@dataclass(frozen=True, slots=True)
class Acceptance:
    """When a curve came into use, and who took it."""

    at: datetime
    by: str


class CurveStore:
    """The curves of a site."""

    def __init__(self, state: Path, disk: Disk) -> None:
        self.folder = state / CURVES
        self._disk = disk

    def curves(self) -> tuple[BuiltCurve, ...]:
        """Return every curve that can be read, by the day of its wedge, then by name."""
        return tuple(sorted(self._read(), key=lambda curve: (curve.made, curve.name)))

    def put(self, curve: BuiltCurve) -> BuiltCurve:
        """Keep a curve and its tables; one of the same wedges is kept once.

        Returns
        -------
        The curve as it is kept: a second one of the day gets a number behind its name.
        """
        known = {fold(entry.name): entry for entry in self.curves()}
        for entry in known.values():
            if entry.sources == curve.sources:
                return entry
        name = next(
            name
            for number in count(1)
            if fold(name := f"{curve.name} {number}" if number > 1 else curve.name) not in known
        )
        kept = replace(curve, name=name)
        if not self._disk.is_folder(self.folder):
            self.folder.mkdir(parents=True)
        stem = folder_name(name)
        # The document last: a curve that is cut off before it is built again.
        for ending, content in (
            (".csv", as_csv(kept).encode()),
            (".cgats", as_cgats(kept).encode()),
            (".txt", as_typed_text(kept).encode()),
            (".json", curve_bytes(kept)),
        ):
            self._write(self.folder / f"{stem}{ending}", content)
        self._disk.sync(self.folder)
        return kept

    def find(self, words: str) -> BuiltCurve:
        """Return the curve of this name, or the only one whose name holds these words.

        Raises
        ------
        UsageError : there is none, or more than one
        """
        curves = self.curves()
        wanted = fold(words)
        found = [curve for curve in curves if fold(curve.name) == wanted]
        found = found or [curve for curve in curves if wanted in fold(curve.name)]
        if len(found) == 1:
            return found[0]
        names = [curve.name for curve in found or curves]
        if found:
            raise UsageError(
                f"{quoted(words)} is part of several names", do=f"name one of: {listing(names)}"
            )
        raise UsageError(
            f"no curve is called {quoted(words)}",
            do=did_you_mean(words, names) if names else "build one: gatekeeper curve build FILE",
        )

    def accept(self, name: str, acceptance: Acceptance) -> None:
        """Write down when a curve came into use, and who took it."""
        document = {"name": name, "at": acceptance.at.isoformat(), "by": acceptance.by}
        self._write(self._accepted(name), f"{json.dumps(document)}\n".encode())
        self._disk.sync(self.folder)

    def acceptance(self, name: str) -> Acceptance | None:
        """Return when a curve came into use, None where nobody wrote it down."""
        try:
            document = json.loads(self._disk.read(self._accepted(name), _LARGEST))
            at = datetime.fromisoformat(document["at"])
            return Acceptance(at, str(document["by"])) if at.tzinfo else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def accepted(self) -> dict[str, datetime]:
        """Return the moment of every acceptance, by the curve's name."""
        found = ((curve.name, self.acceptance(curve.name)) for curve in self._read())
        return {name: acceptance.at for name, acceptance in found if acceptance}

    def _accepted(self, name: str) -> Path:
        return self.folder / f"{folder_name(name)}{_ACCEPTED}"

    def _read(self) -> Iterator[BuiltCurve]:
        for name in self._disk.names(self.folder):
            if name.endswith(".json") and not name.endswith(_ACCEPTED) and name[0] != ".":
                try:
                    yield read_curve(self._disk.read(self.folder / name, _LARGEST))
                except (NotACurveError, OSError):
                    continue  # damaged: it is built again from its wedge

    def _write(self, path: Path, content: bytes) -> None:
        fresh = path.with_name(f".{path.name}.{os.getpid()}")
        self._disk.unlink(fresh)
        self._disk.write_new(fresh, content)
        fresh.replace(path)
