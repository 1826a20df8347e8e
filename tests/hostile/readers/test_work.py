"""Text is read in the gate's own process: what it may cost there is bounded, and held here.

Counted are calls of functions, written in Python and in C, and the memory asked for; not time.
Twice the file may cost twice the work, whatever shape somebody gives it. The limits of
`Declarations` cut off what is larger; readers/README.md says what the worst of these shapes cost at
that size. What one call in C does is not seen: patterns and searches must be linear by themselves.
"""

from __future__ import annotations

import gc
import sys
import tracemalloc
from datetime import UTC

import pytest

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile

SIZE = 30_000
CALLS_A_BYTE = 12
BYTES_A_BYTE = 120
FIXED_CALLS, FIXED_BYTES = 5_000, 400_000
"""What an empty file costs at most: tables of names, patterns, the first look."""

HEAD = "job,1041\nmeter,T-04\nzeroed on,clear\n\npatch,nominal,density,dot,length,where\n"
CGATS = (
    "CGATS.17\nNUMBER_OF_FIELDS 3\n"
    "BEGIN_DATA_FORMAT\nSAMPLE_ID D_VIS SAMPLE_NAME\nEND_DATA_FORMAT\n"
)
TABLE = "BEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n"


def rows(start: str, row: str, end: str = ""):
    return lambda size: start + row * max((size - len(start) - len(end)) // len(row), 1) + end


def numbered(start: str, row: str, end: str = ""):
    """As `rows`, each with a number of its own in place of `#`."""

    def text(size: int) -> str:
        made = [row.replace("#", str(number)) for number in range(size // (len(row) + 3))]
        return start + "".join(made) + end

    return text


SHAPES = {
    "rows": rows(HEAD, "tint,50,0.297,50.4,,somewhere on the film\n"),
    "rows that cannot be used": rows(HEAD, "tint,5x0,0.2y97,5z0.4,1k,on the film\n"),
    "rows of an unknown kind": numbered(HEAD, "patch #,50,0.297,50.4,,film\n"),
    "a separation a row": numbered(
        HEAD.replace("patch,", "separation,patch,"), "s#,tint,50,0.297,50.4,,film\n"
    ),
    "decimal commas": rows(HEAD.replace(",", ";"), "tint;50;0,297;50,4;;film\n"),
    "quotes": rows(HEAD, '"'),
    "doubled quotes": rows(HEAD + '"', '""', '"\n'),
    "line ends in quotes": rows(HEAD + '"', "a\n", '"\n'),
    "commas": rows("", ","),
    "every separator": rows(HEAD, ";,\t|"),
    "blank lines": rows(HEAD, "\n"),
    "blanks": rows(HEAD, " "),
    "digits": rows(HEAD + "solid,,", "9", "\n"),
    "fields of the head": numbered("", "field #,value\n", "\n" + HEAD),
    "marks upon marks": rows(HEAD + "solid,,2.91,,,", "\u0301", "\n"),
    "JSON rows": rows(
        '{"job": "1041", "patches": [', '{"patch": "tint", "nominal": 50, "dot": 50.4},', "{}]}"
    ),
    "JSON names": numbered('{"patches": [], ', '"k#": 1, ', '"end": 1}'),
    "JSON numbers": rows('{"job": [', "1,", "1]}"),
    "JSON texts": rows('{"job": ["', "\\u00e4", '"]}'),
    "JSON escapes": rows('{"job": ["', "\\\\", '"]}'),
    "JSON blanks": rows('{"job": ', "\n ", '"1041"}'),
    "JSON nests": rows("", "["),
    "CGATS rows": numbered(f"{CGATS}BEGIN_DATA\n", "# 2.91 solid\n", "END_DATA\n"),
    "CGATS values in one line": rows(f"{CGATS}BEGIN_DATA\n", "1 2.9 solid ", "\nEND_DATA\n"),
    "CGATS keywords": numbered("CGATS.17\n", 'KEY_# "value"\n'),
    "CGATS comments": rows("CGATS.17\n", "# a comment\n"),
    "CGATS quotes": rows("CGATS.17\n", '"'),
    "CGATS fields": rows("CGATS.17\nBEGIN_DATA_FORMAT\n", "F "),
    "CGATS tables": rows("CGATS.17\n", TABLE),
}  # fmt: skip


def work_of(content: bytes) -> tuple[int, int]:
    """Return how many functions are called to read a file, and how many bytes are asked for."""
    calls = 0

    def count(_frame: object, event: str, _argument: object) -> None:
        nonlocal calls
        calls += event in {"call", "c_call"}

    file, declarations = RawFile("1041", content), Declarations(time_zone=UTC)
    gc.collect()
    tracemalloc.start()
    sys.setprofile(count)
    try:
        read_sheet(file, declarations)
    except UnreadableSheetError:
        pass
    finally:
        sys.setprofile(None)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    return calls, peak


@pytest.mark.parametrize("shape", SHAPES)
def test_twice_the_file_is_at_most_twice_the_work(shape):
    once, twice = (SHAPES[shape](size).encode() for size in (SIZE, 2 * SIZE))
    work_of(once)  # what is made once, such as compiled patterns
    calls, peak = work_of(once)
    more_calls, more_peak = work_of(twice)
    assert more_calls <= 2.2 * calls + FIXED_CALLS
    assert more_peak <= 2.2 * peak + FIXED_BYTES
    assert more_calls <= CALLS_A_BYTE * len(twice) + FIXED_CALLS
    assert more_peak <= BYTES_A_BYTE * len(twice) + FIXED_BYTES
