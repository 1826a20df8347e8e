"""A flat table, or a table of CGATS.17 text, through the columns that a profile maps."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.names import READING, likely_meant
from gatekeeper.readers.patches import Cell
from gatekeeper.readers.values import READINGS
from gatekeeper.sheet import Trace
from gatekeeper.wording import listing, plain, quoted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from collections.abc import Set as AbstractSet

    from gatekeeper.readers.gathering import Gathering
    from gatekeeper.readers.grid import Row
    from gatekeeper.readers.profile import Profile
    from gatekeeper.readers.remarks import Remarks

_LOOKED_AT = 60  # rows; the row of column names is above


class Layout(NamedTuple):
    """Which of the file's columns, counted from 0, holds what; and how many columns there are."""

    columns: tuple[tuple[str, int], ...]
    width: int


def is_header(cells: Iterable[str], profile: Profile) -> bool:
    """Whether a row holds the column names that the profile asks for."""
    wanted = profile.recognise.columns or [
        column for column in profile.columns.values() if not column.isdigit()
    ]
    return {plain_column(name) for name in wanted} <= {plain_column(cell) for cell in cells}


def plain_column(name: str) -> str:
    """Return a column's name without case and superfluous blanks."""
    return " ".join(name.split()).casefold()


def layout_of(
    names: Sequence[str],
    profile: Profile,
    remarks: Remarks,
    *,
    elsewhere: AbstractSet[str] = frozenset(),
) -> Layout:
    """Return where the mapped columns stand; those found `elsewhere` are not missed.

    Raises
    ------
    UnreadableSheetError : none of the columns that hold readings is there
    """
    at: dict[str, int] = {}
    for index, name in enumerate(map(plain_column, names)):
        if name and at.setdefault(name, index) != index and name in _wanted(profile):
            remarks.problem(
                f"two columns are named {quoted(name)}", "rename one of them at the meter"
            )
    found = []
    for name, column in profile.columns.items():
        place = int(column) - 1 if column.isdigit() else at.get(plain_column(column))
        if place is None and plain_column(column) in elsewhere:
            continue
        if place is None:
            _remark_missing(name, column, at, remarks)
        else:
            found.append((_own_name(name, profile), place))
    if not any(name in READINGS for name, _ in found):
        raise UnreadableSheetError(
            f"none of the columns with readings is there; the file has {listing(names)}",
            do=f"export the file as the profile {plain(profile.profile)} has it, or correct it",
        )
    return Layout(tuple(found), len(names))


def by_position(profile: Profile) -> Layout:
    """Return the layout of a file without column names; its rows may be of any width."""
    found = [
        (_own_name(name, profile), int(column) - 1) for name, column in profile.columns.items()
    ]
    return Layout(tuple(found), 0)


def take_rows(
    rows: Iterable[Row],
    layout: Layout,
    gathering: Gathering,
    remarks: Remarks,
    trace: Callable[[int, int], Trace] = Trace,
) -> None:
    """Hand over every row that is not blank; one of too many or too few cells is a problem."""
    readings = [index for name, index in layout.columns if name in READINGS]
    for line, cells in rows:
        if not any(map(str.strip, cells)):
            continue
        if layout.width and any(text.strip() for text in cells[layout.width :]):
            remarks.problem(
                f"the row has more cells than there are columns: {listing(cells[layout.width :])}",
                "look whether a decimal mark or a text has cut a cell in two",
                trace(line, layout.width + 1),
            )
            continue
        texts = {
            name: Cell(name, text, trace(line, index + 1))
            for name, index in layout.columns
            if index < len(cells) and (text := cells[index].strip())
        }
        if texts and layout.width and readings and len(cells) <= min(readings):
            # An empty cell says that nothing was read; a row without the cell has been cut in two.
            remarks.problem(
                "the row ends before its reading", "export the file again", trace(line, len(cells))
            )
            continue
        gathering.take(texts, trace(line, 0))


def without_head(rows: Iterable[Row], profile: Profile) -> tuple[list[str], Iterable[Row]]:
    """Return the column names and the rows below them.

    Raises
    ------
    UnreadableSheetError : no row near the beginning has the names
    """
    remaining = iter(rows)
    for number, row in enumerate(remaining):
        if is_header(row.cells, profile):
            return [cell.strip() for cell in row.cells], remaining
        if number > _LOOKED_AT:
            break
    names = profile.recognise.columns or tuple(profile.columns.values())
    raise UnreadableSheetError(
        f"no row has the column names {listing(names)}",
        do=f"export the file with column names, or correct the profile {plain(profile.profile)}",
    )


def _wanted(profile: Profile) -> set[str]:
    return {plain_column(column) for column in profile.columns.values()}


def _own_name(name: str, profile: Profile) -> str:
    return profile.quantity or name if name == READING else name


def _remark_missing(name: str, column: str, at: dict[str, int], remarks: Remarks) -> None:
    near = likely_meant(plain_column(column), at)
    says = f"the column {quoted(column)} ({name}) is not there"
    if near:
        do = "correct the profile or the export"
        remarks.problem(f"{says}, but one looks like it: {quoted(near)}", do)
    else:
        remarks.note(says)
