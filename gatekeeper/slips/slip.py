"""Slips: a lead's word on a job, as a file in the concessions drop folder.

A concession (ISO 9000:2015, 3.12.5) is permission to use what does not conform; a recall takes an
approved job back. A slip counts because of where it lies and whose file it is, not because of what
it says: only leads may write there, and the daemon looks at the file's owner. It carries the
SHA-256 of the verdict that was read, so that nobody releases a job that has changed since.

Pure: text in, `Slip` out, and back.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from enum import StrEnum

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.wording import quoted

MOST_BYTES = 20_000
LONGEST_REASON = 400
_FIELDS = ("sheet", "job", "workflow", "verdict", "by", "reason")


class SlipKind(StrEnum):
    """What the slip asks."""

    CONCESSION = "concession"
    RECALL = "recall"


@dataclass(frozen=True, slots=True)
class Slip:
    """One slip."""

    kind: SlipKind
    job: str
    workflow: str
    verdict: str  # SHA-256 of verdict.json as it was read
    by: str
    reason: str

    def to_bytes(self) -> bytes:
        """Return the file's content: name,value lines, as a typed sheet has them."""
        target = io.StringIO()
        values = (self.kind.value, self.job, self.workflow, self.verdict, self.by, self.reason)
        csv.writer(target, lineterminator="\n").writerows(zip(_FIELDS, values, strict=True))
        return target.getvalue().encode()


def slip_of(content: bytes) -> Slip:
    """Return the slip that a file is.

    Raises
    ------
    UnreadableSheetError : it is no slip, or lacks what a slip must say
    """
    try:
        rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig")), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise _no_slip("it is not text of name,value lines") from error
    values: dict[str, str] = {}
    for row in filter(None, rows):
        name = row[0].strip().casefold()
        if len(row) != 2 or name not in _FIELDS:  # noqa: PLR2004 -- a name and a value
            raise _no_slip(f"the line {quoted(','.join(row))} is not of a slip")
        if name in values:
            raise _no_slip(f"{name} stands there twice")
        values[name] = " ".join(row[1].split())
    missing = [name for name in _FIELDS if not values.get(name)]
    if missing:
        raise _no_slip(f"it does not give: {', '.join(missing)}")
    return _typed(values)


def _typed(values: dict[str, str]) -> Slip:
    kinds = {kind.value: kind for kind in SlipKind}
    kind = kinds.get(values["sheet"].casefold())
    if kind is None:
        raise _no_slip(f"{quoted(values['sheet'])} is no kind of slip")
    if len(values["reason"]) > LONGEST_REASON:
        raise _no_slip(f"its reason is longer than {LONGEST_REASON} characters")
    return Slip(
        kind, values["job"], values["workflow"], values["verdict"], values["by"], values["reason"]
    )


def _no_slip(reason: str) -> UnreadableSheetError:
    return UnreadableSheetError(
        f"this is no slip: {reason}", do="write it with `gatekeeper release` or `gatekeeper recall`"
    )
