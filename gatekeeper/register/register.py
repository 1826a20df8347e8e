"""All register files at one moment. Pure: it is handed the bytes of the files."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from gatekeeper.register.made_for import of_entry
from gatekeeper.register.models import (
    CurveEntry,
    LotEntry,
    MeterEntry,
    PrinterEntry,
    RegisterFile,
    StockEntry,
)
from gatekeeper.register.sense import problems_of
from gatekeeper.wording import fold
from gatekeeper.yamlfiles.load import parse
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from gatekeeper.register.made_for import MadeFor
    from gatekeeper.yamlfiles.load import Content
    from gatekeeper.yamlfiles.places import Table

Entry = TypeVar("Entry")

REGISTER = "register/"


@dataclass(frozen=True)
class Register:
    """What is known of meters, film, printers and curves.

    An empty table means that the room keeps no such register. Names are compared without case.
    """

    meters: dict[str, MeterEntry] = field(default_factory=dict)
    stocks: dict[str, StockEntry] = field(default_factory=dict)
    lots: dict[str, LotEntry] = field(default_factory=dict)
    printers: dict[str, PrinterEntry] = field(default_factory=dict)
    curves: tuple[CurveEntry, ...] = ()

    def meter(self, key: str) -> MeterEntry | None:
        """Return the meter with this key."""
        return self._meters.get(fold(key))

    def lot(self, key: str) -> LotEntry | None:
        """Return the film lot with this key."""
        return self._lots.get(fold(key))

    def printer(self, key: str) -> PrinterEntry | None:
        """Return the printer with this key."""
        return self._printers.get(fold(key))

    def stock(self, key: str) -> StockEntry | None:
        """Return the film stock with this key."""
        return self._stocks.get(fold(key))

    def curve(self, film: MadeFor, day: date) -> CurveEntry | None:
        """Return the curve in use on a day: of those that serve, the newest linearized by then."""
        for linearized, _, number, made_for in self._newest_first.get(film.route, ()):
            if linearized <= day and made_for.serves(film):
                return self.curves[number]
        return None

    def curves_of(self, film: MadeFor) -> tuple[tuple[int, CurveEntry], ...]:
        """Return the curves of this workflow, printer and stock at any setting, each numbered."""
        return tuple(self._curves.get(film.route, ()))

    # Looked up for every job, so the folded names are made once.

    @cached_property
    def _meters(self) -> dict[str, MeterEntry]:
        return _folded(self.meters)

    @cached_property
    def _lots(self) -> dict[str, LotEntry]:
        return _folded(self.lots)

    @cached_property
    def _printers(self) -> dict[str, PrinterEntry]:
        return _folded(self.printers)

    @cached_property
    def _stocks(self) -> dict[str, StockEntry]:
        return _folded(self.stocks)

    @cached_property
    def _newest_first(self) -> dict[tuple[str, str, str], list[tuple[date, int, int, MadeFor]]]:
        found: dict[tuple[str, str, str], list[tuple[date, int, int, MadeFor]]] = {}
        for number, entry in enumerate(self.curves):
            made_for = of_entry(entry)
            ranked = (entry.linearized, made_for.names, number, made_for)
            found.setdefault(made_for.route, []).append(ranked)
        return {route: sorted(ranked, reverse=True) for route, ranked in found.items()}

    @cached_property
    def _curves(self) -> dict[tuple[str, str, str], list[tuple[int, CurveEntry]]]:
        found: dict[tuple[str, str, str], list[tuple[int, CurveEntry]]] = {}
        for number, entry in enumerate(self.curves):
            found.setdefault(of_entry(entry).route, []).append((number, entry))
        return found


def _folded(entries: Mapping[str, Entry]) -> dict[str, Entry]:
    return {fold(name): entry for name, entry in entries.items()}


def read_register(files: Mapping[str, Content]) -> tuple[Register, tuple[FileProblem, ...]]:
    """Return the register of these files by name, and every problem found in them."""
    parts: list[RegisterFile] = []
    tables: list[Table] = []
    problems: list[FileProblem] = []
    for file in sorted(files):
        try:
            table, found = parse(files[file], file)
        except BrokenFilesError as error:
            problems += error.problems
            continue
        problems += found
        read, found = validate(RegisterFile, table)
        problems += found
        tables.append(table)
        if read is not None:
            parts.append(read)
    register = Register(
        meters={key: entry for part in parts for key, entry in part.meters.items()},
        stocks={key: entry for part in parts for key, entry in part.stocks.items()},
        lots={key: entry for part in parts for key, entry in part.lots.items()},
        printers={key: entry for part in parts for key, entry in part.printers.items()},
        curves=tuple(curve for part in parts for curve in part.curves),
    )
    blocks = {name for table in tables for name in table.entries}
    is_whole = len(tables) == len(files) and blocks <= RegisterFile.model_fields.keys()
    problems += problems_of(tables, is_whole=is_whole)
    return register, tuple(sorted(problems))
