"""Accidents to files that leave alone what the verdict on them rests on, see `twins.py`.

Everything else may be lost, doubled, swapped, mistyped, cut off, or written in another encoding,
with other line ends, other separators and under another ending.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING

from twins import CLOSE, OPEN, WORKBOOKS, Draft, bare, typed_lines

if TYPE_CHECKING:
    import random


# -- accidents to lines and cells ---------------------------------------------------------------


def _place(lines, chance):
    return chance.randrange(len(lines)) if lines else 0


def lose_line(lines, chance):
    at = _place(lines, chance)
    return lines[:at] + lines[at + 1 :]


def double_line(lines, chance):
    at = _place(lines, chance)
    return [*lines[:at], lines[at], *lines[at:]]


def swap_lines(lines, chance):
    one, other = _place(lines, chance), _place(lines, chance)
    lines[one], lines[other] = lines[other], lines[one]
    return lines


def lose_cell(lines, chance):
    line = lines[_place(lines, chance)]
    if line:
        del line[chance.randrange(len(line))]
    return lines


def double_cell(lines, chance):
    line = lines[_place(lines, chance)]
    if line:
        at = chance.randrange(len(line))
        line.insert(at, line[at])
    return lines


def swap_cells(lines, chance):
    line = lines[_place(lines, chance)]
    if line:
        one, other = chance.randrange(len(line)), chance.randrange(len(line))
        line[one], line[other] = line[other], line[one]
    return lines


def empty_cell(lines, chance):
    line = lines[_place(lines, chance)]
    if line:
        line[chance.randrange(len(line))] = ""
    return lines


def lose_column(lines, chance):
    at = chance.randrange(5)
    return [line[:at] + line[at + 1 :] for line in lines]


def stop_early(lines, chance):
    return lines[: _place(lines, chance)]


def blank_line(lines, chance):
    lines.insert(_place(lines, chance), [])
    return lines


def other_case(lines, chance):
    line = lines[_place(lines, chance)]
    line[:] = [cell if OPEN in cell else cell.swapcase() for cell in line]
    return lines


BY_LINE = [
    lose_line, double_line, swap_lines, lose_cell, double_cell, swap_cells, empty_cell, lose_column,
    stop_early, blank_line, other_case,
]  # fmt: skip


# -- accidents to bytes -------------------------------------------------------------------------

TOKENS = [
    b",",
    b";",
    b"\t",
    b"\n",
    b"\r",
    b'"',
    b"\x00",
    b"\xff",
    b"\xef\xbb\xbf",
    b" ",
    b"'",
    b"{",
    b"}",
    b"[",
    b"]",
    b":",
    b"#",
    b"solid",
    b"clear",
    b"tint",
    b"patch",
    b"density",
    b"job",
    b"%",
    b"> ",
    b"OL",
    b"BEGIN_DATA\n",
    b"END_DATA\n",
    b"KEYWORD",
    b"NUMBER_OF_SETS\t3\n",
    b"=1+1",
    b"\x1b[31m",
    b"separation,cyan\n",
    b"\xe2\x88\x92",
    b"sheet,negative\n",
    b"<",
    b"&amp;",
    b"</",
    b"\x1a",
]
ENDS = ["\n", "\r\n", "\r", "\n\n", "\r\r\n", "\n\r", "\x85", "\u2028", "\x0b"]
ENCODINGS = [
    "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "cp850", "cp500",
    "utf-7", "mac-roman",
]  # fmt: skip


def pieces_of(text, encoding):
    """Return the encoded text in pieces, every other one kept as it is."""
    whole = bare(text).encode(encoding, "replace")
    marks = len("".encode(encoding))  # a byte order mark stands once, in front
    parts = re.split(f"[{OPEN}{CLOSE}]", text)
    pieces = [part.encode(encoding, "replace")[marks:] for part in parts]
    return [whole[:marks] + pieces[0], *pieces[1:]]


def hurt(pieces, chance):
    """Return the pieces after one accident to a byte or a few, outside what is kept."""
    open_to_harm = range(0, len(pieces), 2)
    weights = [len(pieces[index]) + 1 for index in open_to_harm]
    (index,) = chance.choices(open_to_harm, weights)
    data = bytearray(pieces[index])
    at, length = chance.randrange(len(data) + 1), chance.randint(1, 8)
    match chance.randrange(5):
        case 0:
            data[at : at + 1] = bytes([chance.randrange(256)])
        case 1:
            del data[at : at + length]
        case 2:
            data[at:at] = chance.choice(TOKENS)
        case 3:
            data[at : at + length] = chance.choice(TOKENS)
        case _:
            data[at:at] = data[at : at + length]
    return [*pieces[:index], bytes(data), *pieces[index + 1 :]]


def _written_otherwise(draft: Draft, chance: random.Random) -> Draft:
    """Return the draft with other line ends, encoding, separators or ending, now and then."""
    if chance.random() < 0.15:
        draft = replace(draft, end=chance.choice(ENDS))
    if chance.random() < 0.15:
        draft = replace(draft, encoding=chance.choice(ENCODINGS))
    if chance.random() < 0.1:
        draft = replace(draft, between=chance.choice([",", ";", "\t", "|", " ", ", "]))
    if chance.random() < 0.1:
        ending = chance.choice(["csv", "txt", "json", "xlsx", "ods", "it8", "tsv", "xls"])
        draft = replace(draft, name=f"1041.{ending}")
    return draft


def accident(draft: Draft, chance: random.Random, *, most: int) -> tuple[bytes, str]:
    """Return the file after a few accidents, and the name that it then bears.

    Parameters
    ----------
    most : accidents to whole lines and cells; with 0 nothing is cut off either
    """
    lines = [list(line) for line in draft.lines]
    for _ in range(min(most, chance.choice([0, 0, 1, 1, 2]))):
        if lines:
            lines = chance.choice(BY_LINE)(lines, chance)
    draft = _written_otherwise(replace(draft, lines=lines), chance)
    pieces = pieces_of(draft.text, draft.encoding)
    for _ in range(chance.choice([0, 1, 1, 2, 3])):
        pieces = hurt(pieces, chance)
    content = b"".join(pieces)
    if most and chance.random() < 0.05:
        content = content[: chance.randrange(len(content) + 1)]
    return content, draft.name


# -- workbooks ----------------------------------------------------------------------------------

_READING = re.compile(rb"(-?[0-9]+\.[0-9]+|[0-9]{4}-[0-9]{2}-[0-9]{2}[^<]*|[MT]\w*-\w+|133 lpi)")


def workbook_accident(twin, kind, chance):
    """Return the workbook after accidents to its cells, its parts or its bytes, and its name."""
    lines = [list(line) for line in typed_lines(twin)]
    for _ in range(min(twin.lines, chance.choice([0, 1, 1, 2]))):
        if lines:
            lines = chance.choice(BY_LINE)(lines, chance)
    content = WORKBOOKS[kind](lines)
    way = chance.randrange(4)
    if way == 0:
        content = _hurt_part(content, chance)
    elif way == 1:
        at = chance.randrange(len(content))
        content = content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :]
    name = f"1041.{chance.choice([kind] * 6 + ['csv', 'txt', 'json'])}"
    return content, name


def _hurt_part(content, chance):
    """Return the workbook with one part lost, doubled or hurt outside its readings."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(target, "w") as copy:
        chosen, loses = chance.choice(source.namelist()), chance.random() < 0.2
        for name in source.namelist():
            data = source.read(name)
            if name == chosen:
                if loses:
                    continue
                pieces = _READING.split(data)
                for _ in range(chance.randint(1, 3)):
                    pieces = hurt(pieces, chance)
                data = b"".join(pieces)
            copy.writestr(name, data)
    return target.getvalue()
