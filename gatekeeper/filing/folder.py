"""What a job folder says of itself: its verdicts, and whether the newest one is to be believed."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from gatekeeper.filing.copying import file_digest
from gatekeeper.verdict_document import NotAVerdictError, VerdictRecord, from_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk

VERDICT = "verdict.json"
REPORT = "report.txt"
MAX_VERDICT_BYTES = 50_000_000
_NUMBERED = re.compile(r"verdict\.([1-9][0-9]{0,5})\.json")
_OURS = re.compile(r"(verdict|report)(\.[1-9][0-9]{0,5})?\.(json|txt)")


def is_ours(name: str) -> bool:
    """Whether gatekeeper wrote this name into the job folder."""
    return _OURS.fullmatch(name) is not None


def sha256_of(content: bytes) -> str:
    """Return the digest by which files are compared."""
    return hashlib.sha256(content).hexdigest()


def read_record(disk: Disk, path: Path) -> VerdictRecord | None:
    """Return a verdict file, None where it is absent, cut, empty or not a verdict."""
    if disk.lstat(path) is None:
        return None
    try:
        return from_bytes(disk.read(path, MAX_VERDICT_BYTES))
    except NotAVerdictError:
        return None


def valid_record(disk: Disk, folder: Path) -> VerdictRecord | None:
    """Return the folder's verdict if its digests are those of the sheets and report beside it."""
    record = read_record(disk, folder / VERDICT)
    if record is None:
        return None
    digests = {sheet.name: sheet.sha256 for sheet in record.verdict.sheets}
    digests[REPORT] = record.report_sha256 or ""
    for name, digest in digests.items():
        if disk.lstat(folder / name) is None or file_digest(folder / name) != digest:
            return None
    return record


def verdict_numbers(disk: Disk, folder: Path) -> list[int]:
    """Return the numbers of the earlier verdicts, oldest first."""
    found = (_NUMBERED.fullmatch(name) for name in disk.names(folder))
    return sorted(int(match[1]) for match in found if match)


def newest_earlier(disk: Disk, folder: Path) -> VerdictRecord | None:
    """Return the newest earlier verdict that can be read."""
    for number in reversed(verdict_numbers(disk, folder)):
        record = read_record(disk, folder / f"verdict.{number}.json")
        if record:
            return record
    return None
