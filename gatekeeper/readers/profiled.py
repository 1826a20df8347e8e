"""Files that one of the site's reading profiles is for: which one, and the reading through it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.assembling import assembled
from gatekeeper.readers.conventions import Conventions
from gatekeeper.readers.encoding import decode, decode_head
from gatekeeper.readers.gathering import Gathering
from gatekeeper.readers.meter_text import take_lines
from gatekeeper.readers.numerals import Numerals
from gatekeeper.readers.patterns import LONGEST_LINE, compiled
from gatekeeper.readers.profiled_cgats import take_tables
from gatekeeper.readers.profiled_table import (
    by_position,
    is_header,
    layout_of,
    take_rows,
    without_head,
)
from gatekeeper.readers.remarks import Remarks
from gatekeeper.readers.splitting import BLANKS, rows_of
from gatekeeper.readers.values import ValueReader
from gatekeeper.sheet import Bound, Sheet, Trace
from gatekeeper.wording import listing, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from gatekeeper.readers.grid import Row
    from gatekeeper.readers.interface import Declarations, RawFile
    from gatekeeper.readers.profile import Profile

_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "blanks": BLANKS}
_MARKS = {"point": ".", "comma": ",", "blank": " ", "apostrophe": "'"}
_BLANK_MARKS = frozenset({" ", "\u00a0", "\u2009", "\u202f"})
_LOOKED_AT = 60  # lines


class ProfiledReader:
    """Reads what a profile of the site is for."""

    format = "a file with a reading profile"
    endings = frozenset({".csv", ".tsv", ".txt", ".it8", ".cgats", ".dat", ".log", ".prn"})

    def recognises(self, head: bytes, declarations: Declarations) -> bool:
        """Whether at least one profile is for the file."""
        return bool(profiles_for(head, declarations))

    def read(self, file: RawFile, declarations: Declarations) -> Sheet:
        """Return the sheet, or raise `UnreadableSheetError`."""
        profile = _the_one(profiles_for(file.content, declarations))
        return _read(file.content, profile, declarations)


def profiles_for(content: bytes, declarations: Declarations) -> list[Profile]:
    """Return the profiles that are for a file of this content (or this beginning)."""
    if not declarations.profiles:
        return []
    texts: dict[str, str] = {}
    found = []
    for profile in declarations.profiles:
        code_page = profile.code_page or declarations.code_page
        if code_page not in texts:
            texts[code_page] = decode_head(content[:8192], code_page)
        if _is_for(profile, texts[code_page]):
            found.append(profile)
    return found


def _is_for(profile: Profile, text: str) -> bool:
    lines = [line for line in text.split("\n", _LOOKED_AT)[:_LOOKED_AT] if line.strip()]
    pattern = profile.recognise.first_line
    if not lines or (pattern and not compiled(pattern).search(lines[0][:LONGEST_LINE])):
        return False
    if not profile.recognise.columns:
        return pattern is not None
    separators = (BLANKS, "\t") if profile.format == "cgats" else _separators(profile)
    return any(
        is_header(_cells(line, separator), profile) for line in lines for separator in separators
    )


def profile_for_rows(rows: Sequence[Row], declarations: Declarations) -> Profile | None:
    """Return the profile that is for a table of cells, None when none is.

    Raises
    ------
    UnreadableSheetError : more than one is
    """
    found = [
        profile
        for profile in declarations.profiles
        if profile.format == "table" and _is_for_rows(profile, rows[:_LOOKED_AT])
    ]
    return _the_one(found) if found else None


def _is_for_rows(profile: Profile, rows: Sequence[Row]) -> bool:
    pattern = profile.recognise.first_line
    first = " ".join(rows[0].cells) if rows else ""
    if pattern and not compiled(pattern).search(first[:LONGEST_LINE]):
        return False
    if not profile.recognise.columns:
        return pattern is not None
    return any(is_header(row.cells, profile) for row in rows)


def _the_one(profiles: list[Profile]) -> Profile:
    if len(profiles) == 1:
        return profiles[0]
    names = listing(profile.profile for profile in profiles)
    raise UnreadableSheetError(
        f"more than one reading profile is for this file: {names}",
        do="let recognise in the profiles tell the files apart",
    )


def read_rows(
    rows: Iterable[Row],
    profile: Profile,
    declarations: Declarations,
    remarks: Remarks,
    trace: Callable[[int, int], Trace] = Trace,
    *,
    hides_percent: bool = False,
) -> Sheet:
    """Return what a table of cells says through a profile."""
    values = _values(profile, declarations, hides_percent=hides_percent)
    gathering = Gathering(profile, values, remarks)
    if profile.column_names:
        names, rows = without_head(rows, profile)
        layout = layout_of(names, profile, remarks)
    else:
        layout = by_position(profile)
    take_rows(rows, layout, gathering, remarks, trace)
    return _assembled(gathering, profile, remarks)


def _read(content: bytes, profile: Profile, declarations: Declarations) -> Sheet:
    text, _ = decode(content, profile.code_page or declarations.code_page)
    remarks = Remarks()
    remarks.ends_with(text)
    if profile.format == "table":
        return read_rows(_rows(text, profile, declarations), profile, declarations, remarks)
    gathering = Gathering(profile, _values(profile, declarations), remarks)
    if profile.format == "text":
        take_lines(text, profile, gathering, remarks)
    else:
        take_tables(text, profile, declarations, gathering, remarks)
    return _assembled(gathering, profile, remarks)


def _assembled(gathering: Gathering, profile: Profile, remarks: Remarks) -> Sheet:
    read_as = f"profile {plain(profile.profile)}"
    return assembled(gathering.kind, gathering.negatives(), remarks, read_as)


def _values(
    profile: Profile, declarations: Declarations, *, hides_percent: bool = False
) -> ValueReader:
    """Return a reader of values that knows how this meter writes them."""
    bounds: dict[str, tuple[Bound, float]] = {}
    if profile.over_range:
        bound = (Bound.AT_LEAST, profile.over_range.at_least)
        bounds |= dict.fromkeys(map(str.casefold, profile.over_range.words), bound)
    if profile.under_range:
        bound = (Bound.AT_MOST, profile.under_range.at_most)
        bounds |= dict.fromkeys(map(str.casefold, profile.under_range.words), bound)
    mark = _MARKS.get(profile.thousands_mark, "")
    marks = _BLANK_MARKS if mark == " " else frozenset({mark} - {""})
    numerals = Numerals(_MARKS.get(profile.decimal_mark or "", ""), marks, bounds=bounds)
    conventions = Conventions(
        fractions=profile.scale == "fraction",
        negative_density=profile.density_sign == "minus",
        may_be_fractions=hides_percent and "scale" not in profile.model_fields_set,
        black_dot=profile.dot_counts == "black",
        units=profile.units,
    )
    formats = (*profile.date_formats, *declarations.date_formats)
    return ValueReader(declarations.time_zone, formats, numerals, conventions)


def _rows(text: str, profile: Profile, declarations: Declarations) -> Iterator[Row]:
    if profile.skip_lines:
        kept = text.split("\n", profile.skip_lines)[profile.skip_lines :]
        text = "\n" * profile.skip_lines + "".join(kept)
    return rows_of(text, _separator(text, profile), declarations)


def _separator(text: str, profile: Profile) -> str:
    """Return the separator: the one stated, or the first that makes the column names appear."""
    allowed = _separators(profile)
    lines = text.split("\n", _LOOKED_AT)[:_LOOKED_AT]
    for separator in allowed:
        if any(is_header(_cells(line, separator), profile) for line in lines):
            return separator
    return allowed[0]


def _separators(profile: Profile) -> tuple[str, ...]:
    if profile.separator is None:
        return (",", ";", "\t")
    return (_SEPARATORS[profile.separator],)


def _cells(line: str, separator: str) -> list[str]:
    if separator == BLANKS:
        return line.split()
    return [cell.strip().strip('"') for cell in line.split(separator)]
