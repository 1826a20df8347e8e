"""The trail of verdicts that a job folder keeps, for oracles that know what was dropped."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Given:
    """One verdict as it lies in its job folder."""

    ticket: str
    decision: str
    document: dict
    sha256: str  # of the verdict's own file: a slip names it
    own: str  # SHA-256 of the sheet or slip on which it was given
    came: str  # with which ticket that came; an earlier one where the room delayed it

    @property
    def says(self) -> str:
        """What holds the job."""
        findings = self.document["findings"]
        return "; ".join(f["says"] for f in findings if f["outcome"] in {"hold", "not judged"})


def trail_of(folder: Path) -> list[Given]:
    """Return every verdict of a job, oldest first."""
    files = [path.read_bytes() for path in folder.glob("verdict*.json")]
    known: set[str] = set()
    trail = []
    for content in sorted(files, key=lambda content: json.loads(content)["ticket"]):
        document = json.loads(content)
        sheets = {entry["name"]: entry for entry in document["sheets"]}
        (new,) = sheets.keys() - known
        known |= sheets.keys()
        trail.append(
            Given(
                document["ticket"],
                document["decision"],
                document,
                digest(content),
                sheets[new]["sha256"],
                sheets[new]["ticket"],
            )
        )
    return trail


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
