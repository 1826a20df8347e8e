"""The names that a sheet may use, as people spell them, and what to say to any other."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from gatekeeper.sheet import COLUMNS, FIELDS, NOWHERE, PatchKind, Trace
from gatekeeper.wording import listing, quoted

if TYPE_CHECKING:
    from collections.abc import Collection

    from gatekeeper.readers.remarks import Remarks

TABLE_COLUMNS: tuple[str, ...] = (*COLUMNS, "separation", "name")
"""Columns of a typed table: those of every sheet, the separation of a row, a name for a patch."""

FIELD_NAMES: frozenset[str] = frozenset(FIELDS)
"""Names of the head, in the form that `plain_name` gives."""

READING = "reading"
"""In a profile, a column whose quantity is told apart from it."""

OPACITY = "opacity"
"""In a profile, a quantity that some meters show: one over the transmittance (ISO 5-1)."""

MAPPED_NAMES: tuple[str, ...] = tuple(sorted({*FIELD_NAMES, *TABLE_COLUMNS, READING}))
"""Names of the sheet that a profile may map a column, a pattern's group or a unit to."""

ORDERED = re.compile(
    r"(?P<kind>clear|solid|tint|length)(?:\s+(?P<nominal>[0-9]+(?:\.[0-9]+)?))?", re.ASCII
)
"""In a profile, an entry of the order of patches: a kind, and its nominal where it needs one."""

CHOICES_SHEET = "choices"
"""Hidden sheet of a blank workbook that holds its longer drop-down lists."""

PATCH_WORDS: dict[str, PatchKind] = {kind.value: kind for kind in PatchKind}


_MISSPELT = 0.75
"""Likeness (0 to 1) from which a name is taken for a misspelt one: densty and dots, not colour."""


_PLAIN_ALREADY = frozenset({*FIELD_NAMES, *TABLE_COLUMNS, ""})


def is_patch_word(text: str) -> bool:
    """Whether a text is the word of a kind of patch, in any case and with blanks around it."""
    return text.strip().casefold() in PATCH_WORDS


def plain_name(text: str) -> str:
    """Return a name without case, outer blanks, underscores, hyphens and a closing colon."""
    if text in _PLAIN_ALREADY:
        return text
    return " ".join(text.replace("_", " ").replace("-", " ").split()).casefold().rstrip(": ")


def likely_meant(name: str, known: Collection[str]) -> str | None:
    """Return the known name that this one is most likely a slip of, or None."""
    near = get_close_matches(name, list(known), n=1, cutoff=_MISSPELT)
    return near[0] if near else None


def remark_unknown(
    remarks: Remarks, what: str, written: str, known: Collection[str], trace: Trace = NOWHERE
) -> None:
    """Say that a name is not known: a problem when it looks misspelt, else a note."""
    near = likely_meant(plain_name(written), known)
    place = f" ({trace})" if str(trace) else ""
    if near:
        remarks.problem(
            f"the {what} {quoted(written)} is not known, but looks like {quoted(near)}",
            f"write {near}, or give it a name that is not taken for it",
            trace,
        )
    else:
        remarks.note(f"the {what} {quoted(written)} is not known and was left unread{place}")


def remark_unknown_patch(
    remarks: Remarks, written: str, trace: Trace, separation: str = ""
) -> None:
    """Say that a row's patch word is none of the four."""
    near = likely_meant(written.casefold(), PATCH_WORDS)
    meant = f", it looks like {quoted(near)}" if near else ""
    remarks.problem(
        f"{quoted(written)} is no kind of patch{meant}" if written else "the row names no patch",
        "write one of " + listing(PATCH_WORDS),
        trace,
        separation,
    )
