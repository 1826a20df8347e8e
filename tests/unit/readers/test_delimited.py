import pytest
from reading import HEAD, TABLE, TYPED, densities, numbers, only, problems, read

from gatekeeper.readers.interface import Declarations
from gatekeeper.sheet import Bound, PatchKind, SheetKind, Trace, ZeroedOn


def test_the_typed_sheet_of_the_contract_is_read_whole():
    sheet = read(TYPED)
    negative = only(sheet)
    assert sheet.problems == ()
    assert sheet.notes == ()
    assert sheet.kind is SheetKind.NEGATIVE
    assert sheet.read_as == "typed sheet (CSV)"
    assert negative.job.value == "1041"
    assert negative.zeroed_on is ZeroedOn.CLEAR
    assert negative.ruling_lpi.value == 65
    assert negative.measured.instant.isoformat() == "2026-11-20T10:05:00+00:00"
    assert numbers(sheet) == [
        (
            "black",
            [
                ("clear", None, (0.0, "exact"), None, None, None, "left"),
                ("solid", None, (2.91, "exact"), None, None, None, "left"),
                ("solid", None, (2.88, "exact"), None, None, None, "centre"),
                ("tint", (50.0, "exact"), None, (50.8, "exact"), None, None, "centre"),
                ("length", (600.0, "exact"), None, None, None, (598.93, "exact"), "around"),
            ],
        )
    ]


def test_every_value_knows_its_line_and_cell():
    negative = only(read(TYPED))
    assert negative.job.trace == Trace(1, 2)
    assert negative.ruling_lpi.trace == Trace(9, 2)
    assert negative.patches[1].density.trace == Trace(13, 3)
    assert negative.patches[3].nominal.trace == Trace(15, 2)
    assert str(negative.patches[1].trace) == "line 13"


def spreadsheet_export(text, separator=";", decimal=","):
    """Write as a European spreadsheet does: all rows padded to one width, decimal commas."""
    rows = [line.split(",") for line in text.splitlines()]
    width = max(map(len, rows))
    return (
        "\r\n".join(
            separator.join((row + [""] * width)[:width]).replace(".", decimal) for row in rows
        ).replace("2026-11-20 10:05", "2026-11-20 10:05")
        + "\r\n"
    )


@pytest.mark.parametrize(
    "text",
    [
        TYPED.replace(",", "\t"),
        TYPED.replace(",", ";"),
        spreadsheet_export(TYPED),
        spreadsheet_export(TYPED, ",", "."),
        "sep=;\r\n" + spreadsheet_export(TYPED),
        "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in TYPED.split("\n"))
        + "\n",
        HEAD + TABLE,
        HEAD.upper().replace("CLEAR", "Clear") + "\n" + TABLE,
        TYPED.replace("\n", "\n\n"),
        "# a sheet\n" + TYPED,
        TYPED.replace("film lot", "Film_Lot:"),
        TYPED.replace("patch,", "Patch ,"),
        TYPED.replace("solid,", " Solid ,"),
    ],
)
def test_every_way_of_separating_and_padding_gives_the_same_readings(text):
    sheet = read(text)
    assert problems(sheet) == []
    expected = numbers(read(TYPED))
    if "BLACK" in text:
        expected[0] = ("BLACK", expected[0][1])
    assert numbers(sheet) == expected
    assert only(sheet).film_lot.value == "M5-0317"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "windows-1252"])
def test_every_encoding_gives_the_same_names(encoding):
    text = TYPED.replace("Quillmark", "Quillmärk")
    assert only(read(text.encode(encoding))).customer.value == "Quillmärk Cartons"


def test_a_declared_code_page_is_said():
    sheet = read(TYPED.replace("Quillmark", "Quillmärk").encode("cp1252"))
    assert "the text was read as windows-1252" in sheet.notes


def test_a_missing_last_line_end_is_said():
    sheet = read(TYPED.rstrip("\n"))
    assert sheet.notes == ("the last line has no line end",)


@pytest.mark.parametrize("cut", ["s", "solid,,2."])
def test_what_is_odd_in_a_last_line_without_an_end_may_have_been_cut_off(cut):
    (problem,) = read(f"{HEAD}\npatch,nominal,density\nclear,,0.02\n{cut}").problems
    assert "this last line has no end: the file may have been cut off here" in problem.says
    assert problem.do.startswith("compare the file with where it came from")
    (whole,) = read(f"{HEAD}\npatch,nominal,density\nclear,,0.02\n{cut}\n").problems
    assert "cut off" not in whole.says
    (above,) = read(f"{HEAD}\npatch,nominal,density\n{cut}\nclear,,0.02").problems
    assert "cut off" not in above.says


def test_columns_may_stand_in_any_order_and_be_left_out():
    sheet = read(HEAD + "\nwhere,density,patch\nleft,2.91,solid\n,0.02,clear\n")
    assert densities(sheet) == [2.91, 0.02]


def test_two_tables_of_one_negative_are_one_negative():
    sheet = read(HEAD + "\npatch,density\nsolid,2.91\n\npatch,nominal,length\nlength,600,599.1\n")
    assert [patch.kind for patch in only(sheet).patches] == [PatchKind.SOLID, PatchKind.LENGTH]


def test_a_reading_over_the_meters_range_is_a_bound():
    sheet = read(HEAD + "\npatch,density\nsolid,> 4.5\nclear,<0.02\n")
    assert [patch.density.bound for patch in only(sheet).patches] == [Bound.AT_LEAST, Bound.AT_MOST]


def test_a_cell_with_the_separator_and_quotes_inside_is_one_cell():
    sheet = read(TYPED.replace("Quillmark Cartons", '"Quillmark ""Cartons"", Inc"'))
    assert only(sheet).customer.value == 'Quillmark "Cartons", Inc'


def test_a_note_of_two_lines_becomes_one_and_later_lines_keep_their_number():
    sheet = read('note,"first\nsecond"\n' + TYPED)
    assert only(sheet).note.value == "first second"
    assert only(sheet).job.trace == Trace(3, 2)


def test_a_field_given_twice_alike_is_no_problem():
    assert problems(read("job,1041\n" + TYPED)) == []


def test_a_field_given_twice_differently_has_no_value():
    assert only(read("job,1042\n" + TYPED)).job is None


def test_unknown_names_are_noted_and_the_rest_is_read():
    sheet = read("weather,dry\n" + HEAD + "\npatch,density,colour\nsolid,2.91,grey\n")
    assert problems(sheet) == []
    assert densities(sheet) == [2.91]
    assert sheet.notes == (
        'the field "weather" is not known and was left unread (line 1, column 1)',
        'the column "colour" is not known and was left unread (line 12, column 3)',
    )


def test_a_row_without_a_reading_is_noted_and_gives_no_patch():
    sheet = read(HEAD + "\npatch,density,where\nsolid,,left\nsolid,2.91,right\n")
    assert densities(sheet) == [2.91]
    assert sheet.notes == ("a solid without a reading was left out (line 12)",)


@pytest.mark.parametrize(
    "text", [HEAD, HEAD + "\npatch,density\n", HEAD + "\npatch,density\nsolid,\n"]
)
def test_a_sheet_without_readings_is_a_problem(text):
    assert "the sheet has no readings" in problems(read(text))


def test_a_concession_needs_no_readings():
    sheet = read("sheet,concession\njob,1041\nnote,may run\n")
    assert sheet.kind is SheetKind.CONCESSION
    assert problems(sheet) == []


def test_readings_above_the_column_names_are_a_problem():
    sheet = read(HEAD + "solid,2.91\npatch,density\nsolid,2.88\n")
    assert problems(sheet) == ["readings stand above the row of column names"]


def test_a_column_of_separations_gives_several_negatives():
    head = HEAD.replace("separation,black\n", "")
    sheet = read(
        head + "\nseparation,patch,density\nblack,solid,2.91\ncyan,solid,2.8\nblack,clear,0.01\n"
    )
    assert problems(sheet) == []
    assert [(one.separation_name, len(one.patches)) for one in sheet.negatives] == [
        ("black", 2),
        ("cyan", 1),
    ]
    assert {one.job.value for one in sheet.negatives} == {"1041"}


def test_blocks_give_several_negatives_that_share_what_is_said_above():
    second = "\nseparation,cyan\nmeasured,2026-11-20 10:20\n\npatch,density\nsolid,2.70\n"
    sheet = read(TYPED + second)
    assert problems(sheet) == []
    black, cyan = sheet.negatives
    assert (black.separation_name, cyan.separation_name) == ("black", "cyan")
    assert cyan.film_lot.value == "M5-0317"
    assert cyan.measured.instant.minute == 20
    assert black.measured.instant.minute == 5
    assert [patch.density.value for patch in cyan.patches] == [2.7]


def test_fields_below_the_last_table_belong_to_its_negative():
    sheet = read(TYPED + "\nnote,all well\noperator,JV\n")
    assert problems(sheet) == []
    assert only(sheet).note.value == "all well"
    twice = read(TYPED + "\njob,1042\n")
    assert "job is given twice" in problems(twice)[0]


def test_a_separation_named_below_the_last_table_is_a_negative_without_readings():
    sheet = read(TYPED + "\nseparation,cyan\n")
    assert [(one.separation_name, len(one.patches)) for one in sheet.negatives] == [
        ("black", 5),
        ("cyan", 0),
    ]


def test_a_problem_belongs_to_the_negative_that_it_is_in():
    second = "\nseparation,cyan\nmeasured,03/04/2026\n\npatch,density\nsolid,OL\n"
    assert [problem.separation for problem in read(TYPED + second).problems] == ["cyan", "cyan"]
    column = read("job,1\nmeter,T\npatch,separation,density\nsolid,black,2.9\nsolid,cyan,OL\n")
    assert [problem.separation for problem in column.problems] == ["cyan"]


@pytest.mark.parametrize(
    ("second", "says"),
    [
        ("\nmeasured,2026-11-20\npatch,density\nsolid,2.7\n", "one of them names no separation"),
        ("\nseparation,Black\npatch,density\nsolid,2.7\n", 'the separation "black" twice'),
        ("\nseparation,cyan\njob,1042\npatch,density\nsolid,2.7\n", "job is given twice"),
    ],
)
def test_negatives_that_cannot_be_told_apart_are_a_problem(second, says):
    assert any(says in problem for problem in problems(read(TYPED + second)))


def test_the_sites_decimal_mark_settles_what_a_comma_before_three_digits_means():
    text = HEAD.replace(",", ";") + "\npatch;density\nsolid;1,234\n"
    assert "can be read as" in problems(read(text))[0]
    assert densities(read(text, declarations=Declarations(decimal_mark=","))) == [1.234]


@pytest.mark.parametrize("word", ["length", "Length", " length"])
@pytest.mark.parametrize("cut", range(len(" length"), len("length,600.00,,,598.93,around\n")))
def test_sheet_that_is_cut_in_its_last_line_is_no_whole_one_before_its_last_cell(cut, word):
    whole = TYPED.removesuffix("length,600.00,,,598.93,around\n")
    cut += len(word) - len("length")
    sheet = read(whole + f"{word},600.00,,,598.93,around\n"[:cut])
    says = [says for says in problems(sheet) if "every row above it" in says]
    assert len(says) == (cut < len(f"{word},600.00,,,598.93,"))


def test_short_last_row_without_a_line_end_is_whole_where_others_are_as_short():
    short = "\n".join(line.rstrip(",") for line in TABLE.replace(",around", "").split("\n"))
    short = short.replace(",,left", "").replace(",,centre", "").replace(",,,left", "")
    assert problems(read(HEAD + "\n" + short.rstrip())) == []
