"""What is told of a verdict: a small document, the same in the queue and for the command.

Its JSON Schema is `schemas/event.schema.json`. The whole verdict lies in the job folder that it
names.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from gatekeeper.show.facts import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from gatekeeper.verdict import Verdict

FORMAT = "gatekeeper event"
VERSION = 1
LARGEST = 100_000

_BRACES = re.compile(r"\{([a-z]+)\}")

Event = dict[str, "str | int | None"]


def event_of(verdict: Verdict, folder: Path, *, site: str, filed: str) -> Event:
    """Return the document.

    Parameters
    ----------
    folder : of the job, absolute
    site : the site's mark, which stays when the room is renamed
    filed : ISO 8601 with its zone
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "event": "verdict",
        "site": site,
        "ticket": verdict.ticket,
        "job": verdict.job,
        "workflow": verdict.workflow,
        "customer": verdict.customer,
        "decision": verdict.decision.value,
        "was": verdict.was,
        "concession": verdict.concession,
        "reason": one_line(verdict),
        "folder": str(folder),
        "arrived": verdict.arrived,
        "filed": filed,
        "rules_fingerprint": verdict.rules_fingerprint,
        "program": verdict.program,
    }


def to_bytes(event: Event) -> bytes:
    """Return the document as it is kept and handed on."""
    return json.dumps(event, ensure_ascii=True, indent=1).encode("ascii") + b"\n"


def from_bytes(content: bytes) -> Event | None:
    """Return the document that a file holds, None where it is something else."""
    try:
        event = json.loads(content)
    except ValueError:
        return None
    is_one = isinstance(event, dict) and event.get("format") == FORMAT
    return event if is_one and event.get("version") == VERSION else None


def arguments_of(command: tuple[str, ...], event: Mapping[str, str | int | None]) -> list[str]:
    """Return the command's words with the event's own in place of those in braces."""

    def word(found: re.Match[str]) -> str:
        value = event.get(found[1])
        # No argument of a program can hold a zero byte; a name that has one is shown without.
        return "" if value is None else str(value).replace("\0", "\N{REPLACEMENT CHARACTER}")

    return [_BRACES.sub(word, part) for part in command]
