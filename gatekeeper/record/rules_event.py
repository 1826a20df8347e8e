"""What the audit trail keeps of an edit: which files, whose, and the rules before and after."""

from __future__ import annotations

import hashlib
import json
import pwd
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.room import Book
    from gatekeeper.rules.library import Library
    from gatekeeper.yamlfiles.places import FileProblem


def rules_event(
    root: Path, before: Book, after: Book, problems: tuple[FileProblem, ...]
) -> dict[str, object]:
    """Return the event's document.

    Parameters
    ----------
    root : the site's folder
    problems : what is broken after the edit
    """
    names = sorted(before.files.keys() | after.files.keys())
    changed = [name for name in names if before.files.get(name) != after.files.get(name)]
    return {
        "fingerprint_before": fingerprint_of(before.library),
        "fingerprint_after": fingerprint_of(after.library),
        "files": {name: _owner(root / name) for name in changed},
        "broken": sorted(str(problem.place) for problem in problems),
    }


def fingerprint_of(library: Library) -> str:
    """SHA-256 over the rules of every workflow and customer; a comment changes nothing."""
    pairs = sorted([*pair, found] for pair, found in library.fingerprints().items())
    return hashlib.sha256(json.dumps(pairs).encode()).hexdigest()


def _owner(path: Path) -> str:
    """Return whose file it is; empty where it is gone or nobody can tell."""
    try:
        uid = path.stat().st_uid
    except OSError:
        return ""
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return str(uid)
