import pytest
from reading import HEAD, TABLE, TYPED, only, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.interface import Declarations


@pytest.mark.parametrize(
    ("change", "says", "place"),
    [
        (
            ("solid,,2.91", "sollid,,2.91"),
            '"sollid" is no kind of patch, it looks like "solid"',
            "line 13",
        ),
        (("solid,,2.91", ",,2.91"), "the row names no patch", "line 13"),
        (("tint,50,", "tint,,"), "a tint without its nominal value", "line 15"),
        (("length,600.00", "length,"), "a length without its nominal value", "line 16"),
        (("2.91", "1,234"), "cut by a decimal comma", "line 13"),
        (("2.91", '"1,234"'), 'density: "1,234" can be read as 1.234 and as 1234', "line 13"),
        (("2.91", "OL"), 'density: "OL" says that the meter was out of its range', "line 13"),
        (("2.91", "29.1"), "no possible density", "line 13"),
        (("50.8", "508"), "no possible dot", "line 15"),
        (("zeroed on,clear", "zeroed on,cleer"), "zeroed on: ", "line 8"),
        (("ruling,65 lpi", "ruling,65"), "ruling: ", "line 9"),
        (("ruling,65 lpi", "ruling,65,5 lpi"), 'ruling: "65,5 lpi" was cut at its comma', "line 9"),
        (("Quillmark Cartons", "Quillmark, Inc"), "customer: more than one value", "line 2"),
        (
            ("film lot", "film lto"),
            'the field "film lto" is not known, but looks like "film lot"',
            "line 5",
        ),
        (
            ("job,1041", "job,1041\njob,1042"),
            'job is given twice: "1041" (line 1, column 2) and "1042"',
            "line 2",
        ),
        (
            ("density", "densty"),
            'the column "densty" is not known, but looks like "density"',
            "line 11",
        ),
        (("density", "dot"), 'two columns are named "dot"', "line 11"),
        (("patch,", "pach,"), 'the column "pach" is not known, but looks like "patch"', "line 11"),
        (
            ("solid,,2.91,,,left", "solid,,2.91,,,left,again"),
            "more cells than the table has columns",
            "line 13",
        ),
        (("job,1041", ",1041"), "a value without a name", "line 1"),
        (("measured,2026-11-20 10:05", "measured,03/04/2026"), "measured: ", "line 7"),
    ],
)
def test_a_part_that_cannot_be_used_is_a_problem_with_its_line(change, says, place):
    assert change[0] in TYPED
    sheet = read(TYPED.replace(*change, 1))
    found = [problem for problem in sheet.problems if says in problem.says]
    assert found, problems(sheet)
    assert str(found[0].trace).startswith(place)
    assert found[0].do
    assert found[0].separation == "black"


@pytest.mark.parametrize(
    "row",
    [
        "clear,,0,05,,,left",  # a cell too many
        "solid,,2,91,,left",  # fits, when a trailing cell was left out
        "solid,,2,91",
        "solid,,>2,91,,,",
        "tint,50,,50,8",
        "tint,50,,50,8 %",
        "length,600,00,598,93,around",
        "length,600,05,,598.93,around",
    ],
)
def test_a_number_cut_by_its_decimal_comma_is_never_read_as_two(row):
    sheet = read(HEAD + "\npatch,nominal,density,dot,length,where\n" + row + "\nsolid,,2.88,,,\n")
    assert "cut by a decimal comma" in sheet.problems[0].says
    assert [patch.density.value for patch in only(sheet).patches] == [2.88]


@pytest.mark.parametrize(
    "row",
    [
        "tint,50,,50,,centre",
        "solid,100,10",
        "tint,50,0.31,50,,2",
        "length,600,,,599,around",
        "solid,100,2.91,,,3",
    ],
)
def test_whole_numbers_in_their_own_columns_are_not_taken_for_cut_ones(row):
    sheet = read(HEAD + "\npatch,nominal,density,dot,length,where\n" + row + "\n")
    assert problems(sheet) == []


def test_in_a_file_of_decimal_commas_a_point_that_could_part_thousands_is_refused():
    text = HEAD.replace(",", ";") + "\npatch;density\nsolid;2,91\nsolid;1.234\n"
    assert '"1.234" can be read as 1.234 and as 1234' in problems(read(text))[0]


@pytest.mark.parametrize(
    ("content", "says", "where"),
    [
        ('job,"1041\n' + TABLE, "a quotation mark has no partner", "line 1"),
        (HEAD + TABLE.replace("left", '"le"ft'), "a quotation mark has no partner", "line 11"),
        ("hello world\n", "no name of a sheet's field or column", "line 1"),
        ("jbo,1041\n", 'the nearest known one is "job"', "line 1"),
        ("", "the file is empty", ""),
        ("\n\n  \n", "the file is empty", ""),
    ],
)
def test_a_file_that_is_no_sheet_says_what_is_wrong(content, says, where):
    with pytest.raises(UnreadableSheetError) as refused:
        read(content)
    assert says in refused.value.what
    assert refused.value.where == where
    assert refused.value.do


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (HEAD + "patch,density\n" + "solid,2.9\n" * 200, "more than 100 rows"),
        ("job,1041" + "," * 60 + "\n", "more than 50 columns"),
        ("note," + "x" * 600 + "\n", "a cell of more than 500 characters"),
        ("note,x\n" * 5000, "bytes, more than the 20000 allowed"),
        ('job,1\nnote,"' + "x" * 200_000 + '"\n', "200014 bytes"),
    ],
)
def test_each_limit_has_its_own_reason(text, says):
    limits = Declarations(max_bytes=20_000, max_rows=100, max_columns=50, max_cell=500)
    with pytest.raises(UnreadableSheetError, match=says):
        read(text, declarations=limits)


def test_what_just_fits_the_limits_is_read():
    limits = Declarations(max_bytes=5_000, max_rows=12, max_columns=6, max_cell=20)
    text = TYPED.replace("zeroed on,clear\nruling,65 lpi\n", "").rstrip("\n")
    text = text.replace("Quillmark Cartons", "x" * 20)
    assert text.count("\n") + 1 <= 14
    assert read("\n".join(text.split("\n")[:12]), declarations=limits).problems == ()


def test_a_cell_beyond_what_the_csv_module_takes_is_refused_like_any_other():
    with pytest.raises(UnreadableSheetError, match="a cell of more than 4000 characters"):
        read("job,1\nnote," + "x" * 200_000 + "\n")


def test_text_from_the_file_is_never_handed_on_raw():
    sheet = read(TYPED.replace("solid,,2.91", "sol\u202eid\u200b,,2.91"))
    assert all(sign.isprintable() for problem in sheet.problems for sign in problem.says)


def test_hundreds_of_problems_are_counted_not_listed():
    sheet = read(HEAD + "\npatch,density\n" + "solid,OL\n" * 400)
    assert len(sheet.problems) == 101
    assert problems(sheet)[-1] == "300 further problems not listed"
