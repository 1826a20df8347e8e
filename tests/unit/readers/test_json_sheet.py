import json

import pytest
from meter_files import JSON_SHEET as SHEET
from reading import TYPED, numbers, only, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.json_text import parse
from gatekeeper.readers.whole import ends_whole
from gatekeeper.sheet import Trace


def test_a_sheet_in_json_says_what_the_typed_sheet_says():
    sheet = read(json.dumps(SHEET), "1041.json")
    assert problems(sheet) == []
    assert sheet.notes == ()
    assert sheet.read_as == "JSON"
    assert numbers(sheet) == numbers(read(TYPED))
    assert only(sheet).job.value == "1041"
    assert only(sheet).measured.instant == only(read(TYPED)).measured.instant


def test_every_value_knows_its_line_and_column():
    negative = only(read(json.dumps(SHEET, indent=1), "1041.json"))
    assert negative.job.trace == Trace(2, 9)
    assert negative.patches[0].density.trace == Trace(14, 15)
    assert negative.patches[0].trace == Trace(12, 3)


def test_numbers_keep_the_text_they_were_written_as():
    sheet = read('{"job": 1, "patches": [{"patch": "solid", "density": 2.90}]}', "a.json")
    assert only(sheet).patches[0].density.written == "2.90"


def test_a_list_holds_several_negatives():
    two = [SHEET, {**SHEET, "separation": "cyan"}]
    sheet = read(json.dumps(two), "1041.json")
    assert problems(sheet) == []
    assert [one.separation_name for one in sheet.negatives] == ["black", "cyan"]


def test_patches_may_name_their_separation():
    rows = [{"patch": "solid", "density": 2.9, "separation": name} for name in ("black", "cyan")]
    sheet = read(json.dumps({"job": "1041", "patches": rows}), "1041.json")
    assert problems(sheet) == []
    assert [one.separation_name for one in sheet.negatives] == ["black", "cyan"]


def test_yes_and_no_of_json_are_words():
    assert only(read(json.dumps({**SHEET, "cleaned": True}), "a.json")).cleaned.value == "yes"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_json_is_found_under_any_ending_and_encoding(encoding):
    content = json.dumps(SHEET).encode(encoding)
    assert looks_like_sheet("a.txt", content, Declarations())
    assert numbers(read(content, "a.csv")) == numbers(read(TYPED))


@pytest.mark.parametrize(
    "content", ['{"name": "x", "version": 2}', "[settings]\nx=1\n", "{}", "[1, 2]"]
)
def test_other_json_is_not_taken_for_a_sheet(content):
    assert not looks_like_sheet("ticket.json", content.encode(), Declarations())


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"job": "1041", "Job": "1042"}, "job is given twice"),
        ({"film lto": "x"}, 'the field "film lto" is not known, but looks like'),
        ({"job": [1]}, "job holds more than one value"),
        ({"ruling": 65}, "it may be 65 lpi or 65 l/cm"),
        ({"patches": {}}, "patches is not a list"),
        ({"patches": ["solid"]}, "a patch is an object in braces"),
        ({"patches": [{"density": 2}]}, "the row names no patch"),
        ({"patches": [{"patch": "sollid", "density": 2}]}, 'looks like "solid"'),
        ({"patches": [{"patch": "solid", "density": 291}]}, "no possible density"),
        ({"patches": [{"patch": "solid", "densty": 2}]}, 'looks like "density"'),
        ({"patches": []}, "the sheet has no readings"),
        ({"job": "10\u202e41"}, "U+202E"),
    ],
)
def test_what_cannot_be_used_is_a_problem(change, says):
    found = problems(read(json.dumps({**SHEET, **change}), "a.json"))
    assert any(says in problem for problem in found), found


@pytest.mark.parametrize(
    ("text", "says", "where"),
    [
        ('{"job": 1', "a comma or } is missing", "line 1, column 10"),
        ('{"job" 1}', 'a colon is missing behind "job"', "line 1, column 8"),
        ('{"job": 1,}', "a name in quotes is wanted", "line 1, column 11"),
        ('{"job": 1}\n{}', "something follows after the end", "line 2, column 1"),
        ('{\n"job": 1,\n"job": 2}', 'the name "job" stands twice', "line 3, column 1"),
        ('{"job": NaN}', "is not JSON", "line 1, column 9"),
        ('{"job": 01}', "a comma or } is missing", "line 1, column 10"),
        ("{'job': 1}", "is not JSON", "line 1, column 2"),
        ('{"job": "a\tb"}', "is not JSON", "line 1, column 9"),
        ("[" * 100_000, "nested deeper than 8", "line 1, column 10"),
        ('{"job": ]', 'a value is missing before "]"', "line 1, column 9"),
        ("[1]", "a sheet in JSON is an object", "line 1, column 2"),
        ("", None, None),
        ("[", "the file ends too early", "line 1, column 2"),
    ],
)
def test_what_is_not_json_is_refused_with_its_place(text, says, where):
    with pytest.raises(UnreadableSheetError) as refused:
        read(text, "a.json")
    if says:
        assert says in refused.value.what
        assert refused.value.where == where


def test_no_beginning_of_a_sheet_in_json_ends_whole():
    text = json.dumps(SHEET).encode()
    assert ends_whole(text)
    assert not any(ends_whole(text[:cut]) for cut in range(1, len(text)))


def test_a_large_file_takes_time_in_proportion():
    # Were each place counted from the beginning, this would take minutes.
    text = "[" + ",\n".join(['{"a": 1}'] * 20_000) + "]"
    assert len(parse(text).items) == 20_000


def test_limits_hold():
    limits = Declarations(max_rows=10, max_cell=20)
    rows = [{"patch": "solid", "density": 2}] * 11
    within = {"job": "x" * 20, "patches": rows[:10]}
    assert len(only(read(json.dumps(within), "a.json", limits)).patches) == 10
    with pytest.raises(UnreadableSheetError, match="more than 10 patches"):
        read(json.dumps({"patches": rows}), "a.json", limits)
    with pytest.raises(UnreadableSheetError, match="more than 400 names in one object"):
        read(json.dumps({f"a{number}": 1 for number in range(401)} | within), "a.json", limits)
    with pytest.raises(UnreadableSheetError, match="more than 20 characters"):
        read(json.dumps({"job": "x" * 21, "patches": []}), "a.json", limits)


def test_patch_whose_reading_has_a_name_that_nobody_knows_is_a_problem():
    text = '{"job": 1, "patches": [{"patch": "solid", "denzity": 2.40, "where": "left"}]}'
    assert "a solid has no reading, but denzity" in problems(read(text, "a.json"))
    none = '{"job": 1, "patches": [{"patch": "solid", "where": "left", "name": "S1"}]}'
    assert not [says for says in problems(read(none, "a.json")) if "but" in says]
