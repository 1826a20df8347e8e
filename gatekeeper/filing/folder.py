"""What a job folder says of itself: its verdicts, and whether the newest one is to be believed."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from gatekeeper.filing.copying import file_digest
from gatekeeper.filing.disk import NotPlainFileError
from gatekeeper.verdict_document import NotAVerdictError, VerdictRecord, from_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.filing.disk import Disk

VERDICT = "verdict.json"
REPORT = "report.txt"
MAX_VERDICT_BYTES = 50_000_000
_NUMBERED = re.compile(r"(?:verdict\.([1-9][0-9]{0,5})\.json|report\.([1-9][0-9]{0,5})\.txt)")
_OURS = re.compile(r"(verdict|report)(\.[0-9]+)?\.(json|txt)", re.IGNORECASE)


def is_ours(name: str) -> bool:
    """Whether the name is one that gatekeeper writes into job folders, on any share."""
    return _OURS.fullmatch(name) is not None


def sha256_of(content: bytes) -> str:
    """Return the digest by which files are compared."""
    return hashlib.sha256(content).hexdigest()


def digest_in(folder: Path, name: str) -> str | None:
    """Return the digest of a plain file in a job folder, None where there is no such file."""
    if "/" in name or "\0" in name:
        return None
    try:
        return file_digest(folder / name)
    except (FileNotFoundError, NotPlainFileError):
        return None


def read_record(disk: Disk, path: Path) -> VerdictRecord | None:
    """Return a verdict file, None where it is absent, cut, empty or not a verdict."""
    try:
        return from_bytes(disk.read(path, MAX_VERDICT_BYTES))
    except (FileNotFoundError, NotPlainFileError, NotAVerdictError):
        return None


def valid_record(disk: Disk, folder: Path) -> VerdictRecord | None:
    """Return the folder's verdict if its digests are those of the sheets and report beside it.

    A sheet without a digest was gone or could not be read when the job was judged.
    """
    record = read_record(disk, folder / VERDICT)
    if record is None or digest_in(folder, REPORT) != record.report_sha256:
        return None
    for sheet in record.verdict.sheets:
        if sheet.sha256 and digest_in(folder, sheet.name) != sheet.sha256:
            return None
    return record


def verdict_numbers(disk: Disk, folder: Path) -> list[int]:
    """Return the numbers of the earlier verdicts, oldest first."""
    found = (_NUMBERED.fullmatch(name) for name in disk.names(folder))
    return sorted(int(match[1]) for match in found if match and match[1])


def next_number(disk: Disk, folder: Path) -> int:
    """Return a number that neither an earlier verdict nor an earlier report has."""
    found = (_NUMBERED.fullmatch(name) for name in disk.names(folder))
    return max((int(match[1] or match[2]) for match in found if match), default=0) + 1


def numbered_verdict(number: int) -> str:
    """Return the name of an earlier verdict."""
    return f"verdict.{number}.json"


def numbered_report(number: int) -> str:
    """Return the name of an earlier verdict's report."""
    return f"report.{number}.txt"


def newest_earlier(disk: Disk, folder: Path) -> tuple[VerdictRecord | None, bool]:
    """Return the newest earlier verdict that can be read, and whether a later one cannot be.

    Which sheets count is then not clear.
    """
    is_damaged = False
    for number in reversed(verdict_numbers(disk, folder)):
        record = read_record(disk, folder / numbered_verdict(number))
        if record:
            return record, is_damaged
        is_damaged = True
    return None, is_damaged
