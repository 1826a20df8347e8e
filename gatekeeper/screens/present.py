"""What the daemon sees right now, in one small file for every screen: state/now.json."""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from gatekeeper.rounds.outlook import Waiting

if TYPE_CHECKING:
    from pathlib import Path

NOW_FILE = "now.json"
_SEPARATORS = (",\n", ": ")


@dataclass(frozen=True, slots=True)
class Present:
    """The daemon's view at one moment."""

    at: str  # ISO 8601, UTC
    process: int
    program: str
    waiting: tuple[Waiting, ...] = ()
    alarms: tuple[str, ...] = ()
    broken_rules: tuple[str, ...] = field(default=())
    coming_rules: tuple[str, ...] = ()  # what will be broken from a day to come, unless mended
    news: tuple[str, ...] = ()  # what the charts say that somebody should act on


class PresentFile:
    """Writes the file, encoding anew only what has changed: thousands of files may lie and wait."""

    def __init__(self, state: Path) -> None:
        self._state = state
        self._lasting: Present | None = None  # all of it but the moment, which comes first
        self._encoded = b""

    def write(self, present: Present) -> None:
        """Swap the file in whole. It is a screen's help, not a record: it is not flushed."""
        lasting = replace(present, at="")
        if lasting != self._lasting:
            self._lasting, self._encoded = lasting, _encoded(lasting).removeprefix(_encoded_at(""))
        temporary = self._state / f".{NOW_FILE}.{os.getpid()}"
        with temporary.open("wb") as file:
            file.write(_encoded_at(present.at))
            file.write(self._encoded)
        temporary.replace(self._state / NOW_FILE)


def write_present(state: Path, present: Present) -> None:
    """Write the file once."""
    PresentFile(state).write(present)


def _encoded(present: Present) -> bytes:
    # `asdict` takes ten times as long, and so does indenting.
    return f"{json.dumps(present, default=_fields_of, separators=_SEPARATORS)}\n".encode()


def _encoded_at(moment: str) -> bytes:
    return f'{{"at": {json.dumps(moment)}'.encode()


def _fields_of(entry: Present | Waiting) -> dict[str, object]:
    return {name: getattr(entry, name) for name in entry.__slots__}


def read_present(state: Path) -> Present | None:
    """Return what the daemon wrote last, None when there is nothing that can be read."""
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
        data = json.loads((state / NOW_FILE).read_bytes())
        data["waiting"] = tuple(Waiting(**entry) for entry in data["waiting"])
        data["alarms"] = tuple(data["alarms"])
        data["broken_rules"] = tuple(data["broken_rules"])
        data["coming_rules"] = tuple(data["coming_rules"])
        data["news"] = tuple(data["news"])
        return Present(**data)
    return None
