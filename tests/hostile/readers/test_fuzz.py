"""Mutated files of every format: a sheet or a reason comes out, never a traceback."""

import io
import json
import random
import sys
import zipfile
from math import isfinite
from pathlib import Path

import pytest

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet, read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.readers.profile import load_profile
from gatekeeper.readers.values import PLAUSIBLE
from gatekeeper.readers.whole import ends_whole
from gatekeeper.wording import plain

UNIT = Path(__file__).parents[2] / "unit" / "readers"
sys.path.insert(0, str(UNIT))

from meter_files import (  # noqa: E402
    CGATS,
    CGATS_PROFILE,
    DUMP,
    GOOD,
    JSON_SHEET,
    LOG,
    TABLE,
)
from reading import TYPED  # noqa: E402

SITE = Declarations(
    profiles=tuple(load_profile(text.encode(), "p.yaml") for text in (GOOD, DUMP, CGATS_PROFILE))
)
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
    b"-",
    b".",
    b"1,234",
    b"OL",
    b"nan",
    b"1e999",
    b"> 4.5",
    b"solid",
    b"patch",
    b"job",
    b"{",
    b"}",
    b"[",
    b":",
    b"#",
    b"BEGIN_DATA",
    b"END_DATA",
    b"KEYWORD",
    b"=1+1",
    b"\xe2\x88\x92",
    b"9" * 50,
    b"\x1b[31m",
    b"separation,cyan\n",
    b"%",
]


def seeds():
    texts = {
        "typed": (TYPED.encode(), "a.csv"),
        "typed-semicolons": (TYPED.replace(",", ";").replace(".", ",").encode(), "a.csv"),
        "typed-utf16": (TYPED.encode("utf-16"), "a.csv"),
        "json": (json.dumps(JSON_SHEET, indent=1).encode(), "a.json"),
        "profile-table": (TABLE.encode(), "a.csv"),
        "profile-text": (LOG.encode(), "a.txt"),
        "profile-cgats": (CGATS.encode(), "a.it8"),
    }
    for path in sorted((UNIT / "cgats").glob("*.[it]*[8t]")):
        texts[path.name] = (path.read_bytes(), path.name)
    return texts


TEXTS = seeds()
WORKBOOKS = {
    name: (UNIT / "workbooks" / name).read_bytes()
    for name in ("cells.xlsx", "cells.ods", "cells.xls", "typed.xlsx")
}


def chance_of(seed):
    return random.Random(seed)  # noqa: S311 -- the same accidents every time


def mutated(content, chance):
    """Return the content after one to six small accidents."""
    data = bytearray(content)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(data) + 1)
        length = chance.randint(1, 12)
        match chance.randrange(6):
            case 0:
                data[at : at + 1] = bytes([chance.randrange(256)])
            case 1:
                del data[at : at + length]
            case 2:
                data[at:at] = chance.choice(TOKENS)
            case 3:
                data[at : at + length] = chance.choice(TOKENS)
            case 4:
                piece = data[at : at + 4 * length]
                spot = chance.randrange(len(data) + 1)
                data[spot:spot] = piece
            case _:
                if chance.random() < 0.3:
                    del data[at:]
    return bytes(data)


def mutated_inside(content, chance):
    """Return the workbook with one XML part after small accidents, zipped whole again."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(target, "w") as copy:
        names = source.namelist()
        parts = [
            name
            for name in names
            if name.startswith("xl/") or name in {"content.xml", "styles.xml"}
        ]
        chosen = chance.choice(parts)
        for name in names:
            data = source.read(name)
            copy.writestr(name, mutated(data, chance) if name == chosen else data)
    return target.getvalue()


def is_plain(text):
    """Whether text holds nothing that a terminal or a page would act upon."""
    return plain(text, 10_000) == text


def tried(content, name):
    """Return the sheet and the reason why there is none, one of them None."""
    try:
        return read_sheet(RawFile(name, content), SITE), None
    except UnreadableSheetError as refused:
        return None, refused


def survives(content, name):
    """Read, and look at everything that comes out."""
    head = content[:8192]
    assert looks_like_sheet(name, head, SITE) in {True, False}
    assert ends_whole(content) in {True, False}
    sheet, refused = tried(content, name)
    if refused:
        assert refused.what
        assert refused.do
        assert is_plain(str(refused).replace("\n", " "))
        return
    for problem in sheet.problems:
        assert problem.says
        assert problem.do
        assert is_plain(problem.says + problem.do)
    assert all(map(is_plain, sheet.notes))
    for negative in sheet.negatives:
        for patch in negative.patches:
            for attribute in ("density", "dot_percent", "transmittance_percent", "length_mm"):
                number = getattr(patch, attribute)
                if number is not None:
                    low, high = PLAUSIBLE[attribute]
                    assert isfinite(number.value)
                    assert low <= number.value <= high
                    assert number.trace.line


def run(contents, name, chance, times, mutate):
    for number in range(times):
        content = mutate(contents, chance)
        try:
            survives(content, name)
        except BaseException:
            print(f"input {number}: {content!r}")  # noqa: T201 -- the input is what one needs to see
            raise


@pytest.mark.parametrize("seed", TEXTS)
def test_accidents_in_text_give_a_sheet_or_a_reason(seed):
    content, name = TEXTS[seed]
    run(content, name, chance_of(seed), 150, mutated)  # 13 seeds: 1,950


@pytest.mark.parametrize("name", WORKBOOKS)
def test_accidents_in_workbooks_give_a_sheet_or_a_reason(name):
    chance = chance_of(name)
    run(WORKBOOKS[name], name, chance, 10, mutated)
    if not name.endswith(".xls"):
        run(WORKBOOKS[name], name, chance, 10, mutated_inside)


@pytest.mark.nightly
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("seed", TEXTS)
def test_many_accidents_in_text(seed):
    content, name = TEXTS[seed]
    run(content, name, chance_of(f"nightly {seed}"), 1_500, mutated)  # 13 seeds: 19,500


@pytest.mark.nightly
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", WORKBOOKS)
def test_many_accidents_in_workbooks(name):
    chance = chance_of(f"nightly {name}")
    run(WORKBOOKS[name], name, chance, 150, mutated)
    if not name.endswith(".xls"):
        run(WORKBOOKS[name], name, chance, 350, mutated_inside)
