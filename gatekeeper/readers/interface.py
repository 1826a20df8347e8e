"""What every reader is handed and what it answers.

A reader knows no folders, no rules and no clock: it gets a name, the bytes and what the site has
declared, and returns a `Sheet` or raises `UnreadableSheetError`. A new format is one module with an
object of this shape, named once in `choose.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from gatekeeper.readers.profile import Profile
    from gatekeeper.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Declarations:
    """What the site says about the files that its people and meters write."""

    time_zone: tzinfo = UTC
    date_formats: tuple[str, ...] = ()  # strptime patterns accepted besides ISO 8601
    code_page: str = "windows-1252"  # for text that is neither UTF-8 nor UTF-16
    profiles: tuple[Profile, ...] = ()
    max_bytes: int = 4_000_000
    max_rows: int = 20_000
    max_columns: int = 400
    max_cell: int = 4_000
    decimal_mark: str = ""  # "." or "," where the site says so; 1,234 is refused without
    thousands_marks: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True)
class RawFile:
    """A file as it arrived: its name is a hint, its content the truth."""

    name: str
    content: bytes


class Reader(Protocol):
    """One format."""

    format: str
    """What people call it, as a report prints it."""

    endings: frozenset[str]
    """Endings, lower case with the dot, that this format usually has."""

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether the first few kilobytes are clearly of this format, whatever the ending."""
        ...

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError` saying what is wrong and where."""
        ...
