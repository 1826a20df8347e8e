"""Text that attacks its reader or whoever reads the report: refused, or made plain, in time."""

import re

import pytest

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet, read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.wording import plain

SITE = Declarations()
MILLION = 1_000_000
HEAD = "job,1041\nmeter,T-04\npatch,density\n"

FILES = {
    "a terminal escape": ("job,\x1b]0;x\x07\n", "control character"),
    "a NUL": ("job,1\x0041\n", "NUL bytes"),
    "a quote that never ends": ('job,1\nnote,"' + "x" * MILLION, "a cell of more than"),
    "a quote that never ends, in many lines": (
        'job,1\nnote,"' + "x\n" * MILLION,
        "a cell of more than|has no partner",
    ),
    "a line of commas": ("job,1\n" + "," * MILLION + "\n", "more than 400 columns"),
    "a million rows": (HEAD + "solid,2.9\n" * 300_000, "more than 20000 rows"),
    "a million blank rows": ("job,1\n" + ",\n" * 1_500_000, "more than 20000 rows"),
    "only blank lines": ("\n" * MILLION, "the file is empty"),
    "only blanks": (" " * MILLION, "the file is empty"),
    "brackets": ("[" * MILLION, "no name of a sheet's field"),
    "a JSON text that never ends": ('{"patches": "' + "x" * MILLION, "is not JSON"),
    "backslashes": ('{"patches": "' + "\\" * MILLION, "is not JSON"),
    "CGATS fields without end": (
        "CGATS.17\nBEGIN_DATA_FORMAT\n" + "A " * MILLION,
        "more than 400 fields",
    ),
    "CGATS quotes": (
        "CGATS.17\nBEGIN_DATA_FORMAT\nA B\nEND_DATA_FORMAT\nBEGIN_DATA\n" + '"' * (MILLION + 1),
        "no table in it holds readings",
    ),
    "CGATS tables without end": (
        "CGATS.17\nBEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\n" + "BEGIN_DATA\n1\nEND_DATA\n" * 50_000,
        "more than 400 tables",
    ),
    "CGATS keywords without end": ("CGATS.17\n" + "A 1\n" * 900_000, "more than 2000 header lines"),
    "more than the site takes": ("job,1\n" * 700_000, "bytes, more than the 4000000 allowed"),
    "separations without end": (
        "job,1\nmeter,T\nseparation,patch,density\n"
        + "".join(f"s{number},solid,2.9\n" for number in range(101)),
        "names 101 separations",
    ),
    "UTF-32": ("job,1041\n".encode("utf-32-le"), "NUL bytes"),
    "UTF-7": ("+AGoAbwBi-,1\n", "no name of a sheet's field"),
    "random bytes": (bytes(range(256)) * 64, "not text|neither UTF-8"),
}


@pytest.mark.parametrize("ending", [".csv", ".json", ".it8"])
@pytest.mark.parametrize("name", FILES)
def test_it_is_refused_with_its_reason(name, ending):
    content, says = FILES[name]
    raw = content.encode() if isinstance(content, str) else content
    with pytest.raises(UnreadableSheetError) as refused:
        read_sheet(RawFile(f"a{ending}", raw), SITE)
    if ending == ".csv":
        assert re.search(says, str(refused.value)), str(refused.value)
    assert refused.value.do
    assert len(str(refused.value)) < 1000


WORDS = [
    "\u202e1401\u202c",
    "a\u200bb",
    "\ufeffx",
    "a\u2028b",
    "é" * 3000,
    "<b>&amp;",
    "[red]x[/]",
    "%s{0}",
    "'; --",
    "../../etc",
]


@pytest.mark.parametrize("word", WORDS)
@pytest.mark.parametrize("at", range(6))
def test_foreign_text_in_a_message_is_plain_short_and_printable(word, at):
    cells = ["meter", "T-04", "patch", "density", "solid", "2.9"]
    cells[at] = word
    text = "job,1041\n{},{}\n{},{}\n{},{}\n".format(*cells)
    try:
        sheet = read_sheet(RawFile("a.csv", text.encode()), SITE)
    except UnreadableSheetError as refused:
        said = [str(refused).replace("\n", " ")]
    else:
        said = [problem.says + problem.do for problem in sheet.problems] + list(sheet.notes)
    for sentence in said:
        assert plain(sentence, 10_000) == sentence
        assert len(sentence) < 600


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        ".csv",
        "a" * 255 + ".csv",
        "-rf.csv",
        "con.csv",
        "a\x1b[31m.csv",
        "a/b\\c.csv",
        "\udcff.csv",
        "a.csv ",
        "😀.csv",
    ],
)
def test_no_name_of_a_file_stops_the_look_or_the_reading(name):
    content = (HEAD + "solid,2.9\n").encode()
    assert looks_like_sheet(name, content, SITE)
    sheet = read_sheet(RawFile(name, content), SITE)
    assert sheet.problems == ()
    assert all(plain(note, 10_000) == note for note in sheet.notes)
