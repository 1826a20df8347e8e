from pathlib import Path

import pytest
from reading import numbers, only, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.interface import Declarations
from gatekeeper.sheet import PatchKind, SheetKind, Trace, ZeroedOn

OWN = Path(__file__).parent / "cgats"


def own(name):
    return read((OWN / name).read_bytes(), name)


def text(rows, fields="SAMPLE_NAME D_VIS", head=""):
    return (
        f"CGATS.17\n{head}BEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n{rows}\nEND_DATA\n"
    )


def test_a_negative_carries_its_head_in_private_keywords():
    sheet = own("negative.it8")
    negative = only(sheet)
    assert sheet.problems == ()
    assert sheet.read_as == "CGATS.17 text (CGATS.17)"
    assert negative.job.value == "1041"
    assert negative.job.trace == Trace(7, 2)
    assert negative.film_lot.value == "M5-0317"
    assert negative.zeroed_on is ZeroedOn.CLEAR
    assert negative.filter.value == "visual"
    assert negative.ruling_lpi.value == 65
    assert negative.measured.has_time
    assert numbers(sheet) == [
        (
            "black",
            [
                ("clear", None, (0.0, "exact"), None, None, None, "left"),
                ("solid", None, (2.91, "exact"), None, None, None, "left"),
                ("solid", None, (2.88, "exact"), None, None, None, "centre"),
                ("tint", (50.0, "exact"), (0.31, "exact"), (50.8, "exact"), None, None, "centre"),
            ],
        )
    ]
    assert negative.patches[1].density.trace == Trace(23, 4)
    assert [patch.name for patch in negative.patches] == ["1", "2", "3", "4"]


def test_each_table_with_readings_is_a_negative_and_other_tables_are_noted():
    sheet = own("several-tables.it8")
    assert problems(sheet) == []
    assert [(one.separation_name, len(one.patches), one.job.value) for one in sheet.negatives] == [
        ("black", 1, "1041"),
        ("cyan", 2, "1041"),
    ]
    assert "line 26" in sheet.notes[0]


def test_the_filter_named_in_the_header_chooses_the_density():
    sheet = own("colour-filters.it8")
    assert [patch.density.value for patch in only(sheet).patches] == [3.35, 0.09]
    assert only(sheet).filter.value == "blue"


@pytest.mark.parametrize(
    ("fields", "head", "value", "filter_word"),
    [
        ("SAMPLE_NAME D_RED D_VIS", "", 2.0, "visual"),
        ("SAMPLE_NAME D_VIS D_RED", 'FILTER "Red"\n', 2.0, "Red"),
        ("SAMPLE_NAME D_VIS D_BLUE", 'FILTER "Status M blue"\n', 2.0, "Status M blue"),
        ("SAMPLE_NAME D_RED DENSITY", 'FILTER "UV"\n', 2.0, "UV"),
        ("SAMPLE_NAME LAB_L D_BLUE", "", 2.0, "blue"),
        ("SAMPLE_NAME LAB_L D_MAJOR_FILTER", "", 2.0, None),
        ("SAMPLE_NAME d_red d_vis", 'FILTER "D50"\n', 2.0, "D50"),
    ],
)
def test_which_density_counts_is_told_by_filter_then_visual_then_the_only_one(
    fields, head, value, filter_word
):
    negative = only(read(text("solid 1.0 2.0", fields, head), "a.it8"))
    assert negative.patches[0].density.value == value
    assert (negative.filter.value if negative.filter else None) == filter_word


@pytest.mark.parametrize(
    ("fields", "head", "says"),
    [
        ("SAMPLE_NAME D_RED D_BLUE", "", "no FILTER says which one counts"),
        (
            "SAMPLE_NAME D_RED D_VIS",
            'FILTER "blue"\n',
            'FILTER says "blue", but the table has only',
        ),
        ("SAMPLE_NAME D_RED D_VIS", 'FILTER "UV"\n', 'FILTER says "UV", but the table has only'),
        ("SAMPLE_NAME LAB_L LAB_A", "", "no table in it holds readings of film: line 5"),
        ("SAMPLE_NAME XYZ_X XYZ_Y", "", "no table in it holds readings of film"),
    ],
)
def test_a_table_whose_density_is_not_clear_is_refused(fields, head, says):
    with pytest.raises(UnreadableSheetError) as refused:
        read(text("solid 1.0 2.0", fields, head), "a.it8")
    assert says in str(refused.value)
    assert refused.value.do


@pytest.mark.parametrize(
    ("row", "fields", "kind", "nominal", "where"),
    [
        ('"tint 50"', "SAMPLE_NAME", PatchKind.TINT, 50, ""),
        ('"Tint_50 %"', "SAMPLE_NAME", PatchKind.TINT, 50, ""),
        ("solid", "SAMPLE_ID", PatchKind.SOLID, None, ""),
        ('"SOLID: left"', "SAMPLE_NAME", PatchKind.SOLID, None, "left"),
        ("7 0", "SAMPLE_ID CMYK_K", PatchKind.CLEAR, None, ""),
        ("7 100", "SAMPLE_ID CMYK_K", PatchKind.SOLID, None, ""),
        ("7 40", "SAMPLE_ID CMYK_K", PatchKind.TINT, 40, ""),
        ("7 0 40 0 0", "SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K", PatchKind.TINT, 40, ""),
        ("tint 30", "PATCH NOMINAL", PatchKind.TINT, 30, ""),
        ("Tint 30", "PATCH CMYK_K", PatchKind.TINT, 30, ""),
        ('"tint 100" 100', "SAMPLE_NAME CMYK_K", PatchKind.TINT, 100, ""),
        ('"tint 0" 0', "SAMPLE_NAME CMYK_K", PatchKind.TINT, 0, ""),
        ("solid top", "PATCH WHERE", PatchKind.SOLID, None, "top"),
    ],
)
def test_a_row_says_which_patch_it_is_by_field_by_name_or_by_ink(row, fields, kind, nominal, where):
    sheet = read(text(f"{row} 0.5", fields + " D_VIS"), "a.it8")
    (patch,) = only(sheet).patches
    assert problems(sheet) == []
    assert (patch.kind, patch.where) == (kind, where)
    assert (patch.nominal.value if patch.nominal else None) == nominal


@pytest.mark.parametrize(
    ("row", "fields", "says"),
    [
        (
            '"tint 50" 40',
            "SAMPLE_NAME CMYK_K",
            "the name says tint 50, the device values say tint 40",
        ),
        ("solid 40", "SAMPLE_NAME CMYK_K", "the name says solid, the device values say tint 40"),
        ("clear 100", "SAMPLE_NAME CMYK_K", "the name says clear, the device values say solid"),
        ("tint -", "SAMPLE_NAME CMYK_K", "gave no reading"),
        ("tint", "SAMPLE_NAME", "a tint without its nominal value"),
        ("GS7", "SAMPLE_NAME", 'the row "GS7" does not say which patch it is'),
        ("7 40 40", "SAMPLE_ID CMYK_C CMYK_M", 'the row "7" does not say which patch it is'),
    ],
)
def test_a_row_that_says_nothing_or_two_things_is_a_problem(row, fields, says):
    first = row.split()[0]
    filler = "solid" + " 100" * (len(fields.split()) - 1)
    filler = filler.replace("solid 100 100", "solid 100 0")
    sheet = read(text(f"{filler} 2.9\n{row} 0.5", fields + " D_VIS"), "a.it8")
    assert any(says in problem for problem in problems(sheet)), (first, problems(sheet))


def test_rows_of_several_inks_need_a_field_that_tells_the_separations():
    fields = "SAMPLE_ID CMYK_C CMYK_K D_VIS"
    sheet = read(text("1 100 0 2.9\n2 0 100 2.8", fields), "a.it8")
    assert "patches of several inks (CMYK_C, CMYK_K)" in problems(sheet)[0]
    told = read(
        text("1 cyan 100 0 2.9\n2 black 0 100 2.8", "SAMPLE_ID SEPARATION CMYK_C CMYK_K D_VIS"), "a"
    )
    assert problems(told) == []
    assert [one.separation_name for one in told.negatives] == ["cyan", "black"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (text("solid 2.9", head="NUMBER_OF_SETS 2\n"), 'the file states "2" rows and has 1'),
        (text("solid 2.9", head="NUMBER_OF_FIELDS 9\n"), 'the file states "9" fields and has 2'),
        (text("solid 2.9").replace("END_DATA\n", ""), "END_DATA is missing"),
        (
            text("solid 2.9", head="FILM_LTO 1\n"),
            'the keyword "FILM_LTO" is not known, but looks like',
        ),
        (text("solid 2.9", head="JOB 1\nJOB 2\n"), "job is given twice"),
        (text("solid 2.9", head="RULING 65\n"), "ruling: "),
        (text("solid OL"), "density: "),
    ],
)
def test_what_does_not_fit_is_a_problem(content, says):
    found = problems(read(content, "a.it8"))
    assert any(says in problem for problem in found), found


def test_standard_keywords_are_nobodys_slip():
    head = 'ORIGINATOR "x"\nSERIAL "x"\nMATERIAL "x"\nPROD_DATE "2026:11"\n'
    assert problems(read(text("solid 2.9", head=head), "a.it8")) == []


def test_a_text_without_identification_is_found_by_its_data_format():
    content = text("solid 2.9").removeprefix("CGATS.17\n")
    assert problems(read(content, "a.csv")) == []
    assert not looks_like_sheet("a.txt", b"BEGIN_DATABASE\nx\n", Declarations())
    assert not looks_like_sheet("a.txt", b"see BEGIN_DATA in the standard\n", Declarations())


def test_the_kind_of_sheet_travels_too():
    assert read(text("solid 2.9", head='SHEET "wedge"\n'), "a.it8").kind is SheetKind.WEDGE


def test_lengths_travel_in_private_fields():
    sheet = read(text("length 600 598.93", "PATCH NOMINAL LENGTH"), "a.it8")
    assert only(sheet).patches[0].length_mm.value == 598.93
