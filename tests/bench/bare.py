"""The bare loops that every figure is a ratio of: what the same bytes cost without a gate."""

from __future__ import annotations

import os
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

REPORT = b"r" * 2048
"""As long as the report of an ordinary job."""


def drain(source: Path, target: Path, *, durable: bool) -> float:
    """Read each sheet, write a report beside it, move both; return the seconds that it took.

    Durable: both files and both folders are flushed for each sheet, as one would do it by hand.
    """
    target.mkdir(parents=True)
    begin = time.perf_counter()
    for sheet in sorted(source.iterdir()):
        sheet.read_bytes()
        report = sheet.with_suffix(".txt")
        report.write_bytes(REPORT)
        if durable:
            flush(report)
            flush(sheet)
        sheet.rename(target / sheet.name)
        report.rename(target / report.name)
        if durable:
            flush(target)
            flush(source)
    return time.perf_counter() - begin


def flush(path: Path) -> None:
    """Make a file, or the names in a folder, durable."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
