"""All register files at one moment. Pure: it is handed the bytes of the files."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from gatekeeper.register.models import (
    CurveEntry,
    LotEntry,
    MeterEntry,
    PrinterEntry,
    RegisterFile,
    StockEntry,
)
from gatekeeper.wording import did_you_mean, quoted
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.places import BrokenFilesError, FileProblem, Table
from gatekeeper.yamlfiles.validate import validate

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

Entry = TypeVar("Entry")

REGISTER = "register/"


def fold(key: str) -> str:
    """Return the form in which register keys are compared: case and outer blanks do not count."""
    return " ".join(key.casefold().split())


@dataclass(frozen=True)
class Register:
    """What is known of meters, film, printers and curves.

    An empty table means that the room keeps no such register.
    """

    meters: dict[str, MeterEntry] = field(default_factory=dict)
    stocks: dict[str, StockEntry] = field(default_factory=dict)
    lots: dict[str, LotEntry] = field(default_factory=dict)
    printers: dict[str, PrinterEntry] = field(default_factory=dict)
    curves: tuple[CurveEntry, ...] = ()

    def meter(self, key: str) -> MeterEntry | None:
        """Return the meter with this key, compared without case."""
        return _find(self.meters, key)

    def lot(self, key: str) -> LotEntry | None:
        """Return the film lot with this key."""
        return _find(self.lots, key)

    def printer(self, key: str) -> PrinterEntry | None:
        """Return the printer with this key."""
        return _find(self.printers, key)

    def stock(self, key: str) -> StockEntry | None:
        """Return the film stock with this key."""
        return _find(self.stocks, key)

    def curve(self, workflow: str, printer: str, stock: str, day: date) -> CurveEntry | None:
        """Return the curve in use on a day: the newest one linearized on or before it."""
        wanted = (fold(workflow), fold(printer), fold(stock))
        in_use = [
            curve
            for curve in self.curves
            if (fold(curve.workflow), fold(curve.printer), fold(curve.stock)) == wanted
            and curve.linearized <= day
        ]
        return max(in_use, key=lambda curve: curve.linearized, default=None)


def _find(entries: Mapping[str, Entry], key: str) -> Entry | None:
    if key in entries:
        return entries[key]
    wanted = fold(key)
    return next((entry for name, entry in entries.items() if fold(name) == wanted), None)


def read_register(files: Mapping[str, bytes]) -> tuple[Register, tuple[FileProblem, ...]]:
    """Return the register of these files by name, and every problem found in them."""
    parts: list[tuple[str, RegisterFile, Table]] = []
    problems: list[FileProblem] = []
    for file in sorted(files):
        try:
            table = load(files[file], file)
        except BrokenFilesError as error:
            problems += error.problems
            continue
        read, found = validate(RegisterFile, table)
        problems += found
        if read is not None:
            parts.append((file, read, table))
    register = Register(
        meters={key: entry for _, part, _ in parts for key, entry in part.meters.items()},
        stocks={key: entry for _, part, _ in parts for key, entry in part.stocks.items()},
        lots={key: entry for _, part, _ in parts for key, entry in part.lots.items()},
        printers={key: entry for _, part, _ in parts for key, entry in part.printers.items()},
        curves=tuple(curve for _, part, _ in parts for curve in part.curves),
    )
    if not problems:
        problems += _sense(register, parts)
    return register, tuple(sorted(problems))


def _sense(register: Register, parts: list[tuple[str, RegisterFile, Table]]) -> list[FileProblem]:
    """Return keys that stand twice and lots of a stock that no file describes."""
    problems: list[FileProblem] = []
    seen: dict[tuple[str, str], str] = {}
    for file, _, table in parts:
        for block in ("meters", "stocks", "lots", "printers"):
            entries = table.entries.get(block)
            for key, place in entries.key_places.items() if isinstance(entries, Table) else ():
                other = seen.setdefault((block, fold(key)), f"{file}:{place.line}")
                if other != f"{file}:{place.line}":
                    what = f"{quoted(key)} stands in {block} twice, also at {other}"
                    problems.append(FileProblem(place, "key-twice", what, "keep one of the two"))
    for _, part, table in parts:
        lots = table.entries.get("lots")
        for key, lot in part.lots.items():
            if register.stock(lot.stock) is None and isinstance(lots, Table):
                what = f"lot {quoted(key)} is of stock {quoted(lot.stock)}, which no file describes"
                do = did_you_mean(lot.stock, register.stocks)
                problems.append(FileProblem(lots.key_places[key], "unknown-stock", what, do))
    return problems
