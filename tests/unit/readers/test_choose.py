import pytest
from reading import TYPED, densities, numbers, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.interface import Declarations

CGATS = """CGATS.17
JOB "1041"
NUMBER_OF_FIELDS 3
BEGIN_DATA_FORMAT
SAMPLE_NAME CMYK_K D_VIS
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
clear 0 0.02
solid 100 2.91
END_DATA
"""
PICTURE = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


@pytest.mark.parametrize("name", ["1041.csv", "1041.CSV", "1041.tsv", "1041.txt"])
def test_a_usual_ending_is_not_remarked(name):
    assert read(TYPED, name).notes == ()


@pytest.mark.parametrize("name", ["1041.it8", "1041.xlsx", "1041", "1041.dat"])
def test_a_wrong_ending_is_read_by_its_content_and_said(name):
    sheet = read(TYPED, name)
    assert numbers(sheet) == numbers(read(TYPED))
    assert "is not one of typed sheet (CSV)" in sheet.notes[-1]


def test_cgats_text_is_found_under_any_ending():
    sheet = read(CGATS, "1041.csv")
    assert densities(sheet) == [0.02, 2.91]
    assert sheet.read_as == "CGATS.17 text (CGATS.17)"
    assert "not one of CGATS.17 text" in sheet.notes[-1]


@pytest.mark.parametrize("name", ["a.csv", "a.TSV", "a.it8", "a.cgats", "a.xlsx", "a.xls", "a.ods"])
def test_a_usual_sheet_ending_is_a_sheet_however_broken(name):
    assert looks_like_sheet(name, PICTURE, Declarations())
    assert looks_like_sheet(name, b"", Declarations())


@pytest.mark.parametrize(
    ("name", "head", "is_sheet"),
    [
        ("1041.txt", TYPED.encode(), True),
        ("1041.dat", TYPED.encode("utf-16"), True),
        ("1041.txt", CGATS.encode(), True),
        ("1041.txt", b"Please print this on Friday.\nNote, for JV: two up.\n", False),
        ("1041.txt", b"", False),
        ("1041.tif", b"II*\x00\x08\x00\x00\x00", False),
        ("1041.png", PICTURE, False),
        ("1041.pdf", b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", False),
        ("1041.bmp", bytes(range(256)) * 8, False),
    ],
)
def test_any_other_file_is_a_sheet_only_when_its_content_clearly_is(name, head, is_sheet):
    assert looks_like_sheet(name, head, Declarations()) is is_sheet


def test_a_file_of_no_known_form_says_what_to_do():
    with pytest.raises(UnreadableSheetError, match="not a sheet in any form") as refused:
        read(b"%PDF-1.7\n", "1041.pdf")
    assert "CSV" in refused.value.do
