"""The board: the whole room on one screen, the newest held job first.

Pure: facts, size and turn in, lines out; equal facts give equal lines, so a screen keeps still
while nothing happens. What does not fit is shown in turns, except the newest held job, which always
stays: a stranger must see which job is held, why, and what to do, whenever he looks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gatekeeper.show import board_parts as parts
from gatekeeper.show.board_parts import DRAWN, Shapes
from gatekeeper.show.cells import BLANK, Ink, Line, fitted, side_by_side
from gatekeeper.show.lines import columns
from gatekeeper.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.show.room_facts import RoomFacts

_TWO_COLUMNS = 110  # columns of a terminal from which the lists stand beside the held jobs
_AIRY = 28  # lines from which held jobs are set apart, and the newest one's number drawn large
_GAP = 3
_NARROWEST = 66  # columns of a held job, where several stand side by side
_WIDEST = 100  # … at most: the eye loses a longer line
KEYS = "keys: space and arrows turn, q ends"
_FEWEST_KEYS = "q ends, arrows turn"  # what ends the board stays when even this is cut

Part = list[Line]


@dataclass(frozen=True, slots=True)
class Size:
    """Columns and lines of a terminal."""

    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Board:
    """The lines of one turn, and how many turns there are."""

    lines: tuple[Line, ...]
    turns: int


def board(facts: RoomFacts, size: Size, turn: int = 0, shapes: Shapes = DRAWN) -> Board:
    """Return the screen, exactly as many lines as it has."""
    top = [*parts.head(facts, size.width), *_alarms(facts, size, shapes)]
    room = Size(size.width, max(size.height - len(top) - 1, 1))
    if size.width >= _TWO_COLUMNS:
        body = _two_columns(facts, room, turn, shapes)
    else:
        body = _one_column(facts, room, turn, shapes)
    lines = [*top, *body.lines][: size.height - 1]
    lines += [BLANK] * (size.height - 1 - len(lines))
    lines.append(_foot(turn % body.turns, body.turns, size.width))
    return Board(tuple(fitted(line, size.width) for line in lines), body.turns)


def snapshot(facts: RoomFacts, width: int = 80, shapes: Shapes = DRAWN) -> list[Line]:
    """Return everything, however long it gets: for a pipe or a file."""
    lines = [*parts.head(facts, width), BLANK]
    for entry in facts.alarms:
        lines += [*parts.alarm(entry, shapes, width), BLANK]
    for job in facts.stopped:
        lines += [*parts.held(job, shapes, width), BLANK]
    if not facts.stopped:
        lines += [*parts.nothing_held(facts), BLANK]
    for part in parts.older(facts, shapes, width):
        lines += [*part, BLANK]
    for part in _rows(facts, shapes, width):
        lines += part
    return lines


def _rows(facts: RoomFacts, shapes: Shapes, width: int) -> list[Part]:
    return [
        *parts.waiting(facts, shapes, width),
        *_running_out(facts, shapes, width),
        *parts.approved(facts, shapes, width),
    ]


def _running_out(facts: RoomFacts, shapes: Shapes, width: int) -> list[Part]:
    return [
        *(parts.news(says, shapes, width) for says in facts.news),
        *(parts.due(entry, shapes, width) for entry in facts.dues),
    ]


def _alarms(facts: RoomFacts, size: Size, shapes: Shapes) -> Part:
    """Return as many alarms as a third of the screen holds, at least one."""
    lines: Part = []
    for number, entry in enumerate(facts.alarms):
        part = parts.alarm(entry, shapes, size.width)
        if lines and len(lines) + len(part) > size.height // 3:
            left = counted(len(facts.alarms) - number, "more alarm")
            lines.append(((f"   and {left}: gatekeeper doctor says all", Ink.ALARM),))
            break
        lines += part
    return lines + [BLANK] * bool(lines and size.height >= _AIRY)


def _one_column(facts: RoomFacts, room: Size, turn: int, shapes: Shapes) -> Board:
    groups = [
        parts.waiting(facts, shapes, room.width),
        _running_out(facts, shapes, room.width),
        parts.approved(facts, shapes, room.width),
    ]
    share = max(room.height // 8, 1)
    shown = [_turned(group, share, turn) for group in groups]
    below = [line for entry in shown for line in entry.lines]
    held = _held(facts, Size(room.width, max(room.height - len(below), 1)), turn, shapes)
    lines = [*held.lines]
    lines += [BLANK] * (room.height - len(below) - len(lines))
    return Board((*lines, *below), max(held.turns, *(entry.turns for entry in shown)))


def _two_columns(facts: RoomFacts, room: Size, turn: int, shapes: Shapes) -> Board:
    right = min(room.width * 3 // 8, _WIDEST)
    left = room.width - right - _GAP
    listed = _lists(facts, Size(right, room.height), turn, shapes)
    held = _held(facts, Size(left, room.height), turn, shapes)
    joined = side_by_side(held.lines, listed.lines, left, _GAP)
    return Board(tuple(joined[: room.height]), max(held.turns, listed.turns))


def _lists(facts: RoomFacts, room: Size, turn: int, shapes: Shapes) -> Board:
    """Return what waits, runs out and was approved, each under its title in its share of lines."""
    groups = (
        ("waiting, and for what", parts.waiting(facts, shapes, room.width)),
        (
            "drifting, running out" if facts.news else "running out",
            _running_out(facts, shapes, room.width),
        ),
        ("approved last", parts.approved(facts, shapes, room.width)),
    )
    lines: Part = []
    turns = 1
    filled = [(title, group) for title, group in groups if group]
    for number, (title, group) in enumerate(filled):
        share = (room.height - len(lines)) // (len(filled) - number) - 2
        shown = _turned(group, max(share, 1), turn)
        lines += [*parts.title(title), *shown.lines]
        turns = max(turns, shown.turns)
    return Board(tuple(lines), turns)


def _held(facts: RoomFacts, room: Size, turn: int, shapes: Shapes) -> Board:
    """Return the newest held job, and below it the others in turns, in as many columns as fit."""
    if not facts.stopped:
        return Board(tuple(parts.nothing_held(facts)), 1)
    number = max(room.width // _NARROWEST, 1)
    width = min((room.width - _GAP * (number - 1)) // number, _WIDEST)
    is_airy = room.height >= _AIRY
    largest = (room.width, room.height // 4 if is_airy else 0)
    first = parts.newest(facts.stopped[0], shapes, largest, min(room.width, _WIDEST))
    air = [BLANK] * is_airy
    rest = [parts.held(job, shapes, width) for job in facts.stopped[1:]]
    others = [[*air, *part] for part in (*rest, *parts.older(facts, shapes, width))]
    pages = _pages(others, max(room.height - len(first), 1))
    turns = -(-len(pages) // number)
    begin = turn % turns * number
    below: Part = []
    for column in reversed(pages[begin : begin + number]):
        below = side_by_side(column, below, width, _GAP) if below else column
    return Board((*first, *below)[: room.height], turns)


def _turned(group: Sequence[Part], height: int, turn: int) -> Board:
    """Return one page of a group, as high as its highest: what stands above must not jump."""
    pages = _pages(group, height)
    page = pages[turn % len(pages)]
    highest = max(map(len, pages))
    return Board((*page, *[BLANK] * (highest - len(page))), len(pages))


def _pages(group: Sequence[Part], height: int) -> list[Part]:
    """Return whole parts, as many a page as fit; a part higher than a page is cut."""
    pages: list[Part] = [[]]
    for part in group:
        if pages[-1] and len(pages[-1]) + len(part) > height:
            pages.append([])
        pages[-1] += part[:height]
    return pages


def _foot(turn: int, turns: int, width: int) -> Line:
    """Return the fullest foot that fits: how to end the board is said on any screen."""
    feet = [f" {KEYS}", f" {_FEWEST_KEYS}"]
    if turns > 1:
        where = f" screen {turn + 1} of {turns}"
        feet = [f"{where}, turning by itself; {KEYS}", f"{where}; {_FEWEST_KEYS}", *feet]
    return ((next((foot for foot in feet if columns(foot) <= width), feet[-1]), Ink.SOFT),)
