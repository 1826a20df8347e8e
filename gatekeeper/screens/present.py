"""What the daemon sees right now, in one small file for every screen: state/now.json."""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gatekeeper.rounds.outlook import Waiting

if TYPE_CHECKING:
    from pathlib import Path

NOW_FILE = "now.json"


@dataclass(frozen=True, slots=True)
class Present:
    """The daemon's view at one moment."""

    at: str  # ISO 8601, UTC
    process: int
    program: str
    waiting: tuple[Waiting, ...] = ()
    alarms: tuple[str, ...] = ()
    broken_rules: tuple[str, ...] = field(default=())
    news: tuple[str, ...] = ()  # what the charts say that somebody should act on


def write_present(state: Path, present: Present) -> None:
    """Swap the file in whole. It is a screen's help, not a record: it is not flushed."""
    temporary = state / f".{NOW_FILE}.{os.getpid()}"
    # Written at each look, with a line for each of thousands of files: `asdict` takes ten times as
    # long, and so does indenting.
    content = json.dumps(present, default=_fields_of, separators=(",\n", ": "))
    temporary.write_text(f"{content}\n", encoding="utf-8")
    temporary.replace(state / NOW_FILE)


def _fields_of(entry: Present | Waiting) -> dict[str, object]:
    return {name: getattr(entry, name) for name in entry.__slots__}


def read_present(state: Path) -> Present | None:
    """Return what the daemon wrote last, None when there is nothing that can be read."""
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
        data = json.loads((state / NOW_FILE).read_bytes())
        data["waiting"] = tuple(Waiting(**entry) for entry in data["waiting"])
        data["alarms"] = tuple(data["alarms"])
        data["broken_rules"] = tuple(data["broken_rules"])
        data["news"] = tuple(data["news"])
        return Present(**data)
    return None
