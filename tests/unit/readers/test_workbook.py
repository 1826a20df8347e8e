import io
import subprocess
import zipfile
from pathlib import Path

import pytest
import xlsxwriter
from reading import numbers, only, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers import workbook_cells
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.profile import load_profile
from gatekeeper.readers.whole import ends_whole
from gatekeeper.readers.workbook_cells import cells_of
from gatekeeper.readers.workbook_xml import cell_name, position
from gatekeeper.sheet import Trace

FILES = Path(__file__).parent / "workbooks"
LIMITS = Declarations()


def own(name):
    return read((FILES / name).read_bytes(), name)


def workbook(write, **options):
    """Return the bytes of a workbook that the function has written to."""
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True, **options}) as book:
        write(book)
    return target.getvalue()


def one_sheet(*rows):
    def write(book):
        sheet = book.add_worksheet("Readings")
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)

    return workbook(write)


SIMPLE = one_sheet(["job", "1041"], ["meter", "T-04"], [], ["patch", "density"], ["solid", 2.91])


@pytest.mark.parametrize(
    "name",
    [
        "typed.xlsx",
        "typed.ods",
        "typed.xls",
        "typed-semicolons.csv",
        "typed-tabs-utf16.csv",
        "typed-quoted.csv",
    ],
)
def test_what_a_spreadsheet_program_saves_says_the_same_in_every_format(name):
    sheet = own(name)
    assert problems(sheet) == []
    assert sheet.notes == ()
    assert only(sheet).job.value == "1041"
    assert only(sheet).measured.instant.isoformat() == "2026-11-20T10:05:00+00:00"
    assert only(sheet).ruling_lpi.value == 65
    assert numbers(sheet) == [
        (
            "black",
            [
                ("clear", None, (0.0, "exact"), None, None, None, "left"),
                ("solid", None, (2.91, "exact"), None, None, None, "left"),
                ("solid", None, (2.88, "exact"), None, None, None, "centre"),
                ("solid", None, (2.9, "exact"), None, None, None, "right"),
                ("tint", (50.0, "exact"), None, (50.8, "exact"), None, None, "centre"),
                ("length", (600.0, "exact"), None, None, None, (598.93, "exact"), "around"),
            ],
        )
    ]


@pytest.mark.parametrize("name", ["typed.xlsx", "typed.ods", "typed.xls"])
def test_every_value_knows_its_sheet_and_cell(name):
    negative = only(own(name))
    assert negative.job.trace == Trace(1, 2, "typed!B1")
    assert negative.patches[1].density.trace == Trace(18, 3, "typed!C18")
    assert str(negative.patches[1].trace) == "cell typed!18:18"


@pytest.mark.parametrize("name", ["cells.xlsx", "cells.ods"])
def test_dates_percent_formulas_and_errors_in_cells_are_what_a_person_sees(name):
    sheet = own(name)
    black, cyan = sheet.negatives
    assert problems(sheet) == [
        "the cell holds an error instead of a value",
        (
            'density: "2026-09-02" is not a number: it is a date, '
            "which is what some spreadsheets make of 2.9 typed into them"
        ),
    ]
    assert str(sheet.problems[0].trace) == "cell Prüfung!C12"
    assert str(sheet.problems[1].trace) == "cell Prüfung!C14"
    assert black.job.value == "1041"
    assert black.measured.instant.isoformat() == "2026-11-20T10:05:00+00:00"
    assert (black.film_made.instant.date().isoformat(), black.film_made.has_time) == (
        "2026-05-11",
        False,
    )
    tints = [patch for patch in black.patches if patch.kind == "tint"]
    # 0.5 and 0.508 stored, 50.00% and 50.8% shown; 25.5 shown with a % that is only text.
    assert [(tint.nominal.value, tint.dot_percent.value) for tint in tints] == [
        (50, 50.8),
        (25, 25.5),
    ]
    solids = [
        patch.density.value for patch in black.patches if patch.kind == "solid" and patch.density
    ]
    assert solids == [2.91, 2.88]
    assert cyan.separation_name == "cyan"
    assert cyan.job.value == "1041"
    assert cyan.patches[0].density.trace.cell == "Cyan!B4"
    assert 'the hidden sheet "scratch" was left unread' in sheet.notes


def test_a_yes_in_a_cell_of_its_own_kind_is_yes():
    assert own("cells.xlsx").negatives[0].cleaned.value == "yes"


def test_in_a_workbook_that_does_not_tell_percent_a_number_up_to_1_is_refused():
    found = problems(own("cells.xls"))
    assert 'nominal: "0.5" can be read as 0.5 % and as 50 %' in found[0]
    assert 'dot: "0.508" can be read as 0.508 % and as 50.8 %' in found[1]


def test_a_formula_without_a_stored_value_is_a_problem():
    def write(book):
        sheet = book.add_worksheet("R")
        sheet.write_row(0, 0, ["job", "1"])
        sheet.write_row(1, 0, ["patch", "density"])
        sheet.write(2, 0, "solid")
        sheet.write_formula(2, 1, "=A9+1", None, "")

    content = workbook(write)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert b"<f>A9+1</f><v></v>" in archive.read("xl/worksheets/sheet1.xml")
    content = changed(content, "xl/worksheets/sheet1.xml", b"<f>A9+1</f><v></v>", b"<f>A9+1</f>")
    sheet = read(content, "a.xlsx")
    assert "the cell holds a formula whose value was never worked out" in problems(sheet)
    assert str(sheet.problems[0].trace) == "cell R!B3"


def changed(content, part, old, new):
    """Return the workbook with one part edited."""
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as source,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as copy,
    ):
        for name in source.namelist():
            data = source.read(name)
            if name == part:
                assert old in data
                data = data.replace(old, new)
            copy.writestr(name, data)
    return target.getvalue()


def test_a_wrong_ending_is_read_by_its_content():
    sheet = read(SIMPLE, "1041.csv")
    assert problems(sheet) == []
    assert 'the ending ".csv" is not one of a workbook' in sheet.notes[-1]
    assert looks_like_sheet("1041.dat", SIMPLE, LIMITS)


@pytest.mark.parametrize("name", ["typed.xlsx", "typed.ods", "typed.xls"])
def test_half_a_workbook_does_not_end_whole_and_is_refused(name):
    content = (FILES / name).read_bytes()
    assert ends_whole(content)
    half = content[: len(content) // 2 + 1]
    assert not ends_whole(half)
    with pytest.raises(UnreadableSheetError) as refused:
        read(half, name)
    assert refused.value.do


def test_a_meters_table_in_a_workbook_is_read_through_its_profile():
    text = (
        "profile: p\nrecognise: {columns: [Feld, D]}\ncolumns: {patch: Feld, density: D, job: Nr}\n"
    )
    site = Declarations(profiles=(load_profile(text.encode(), "p.yaml"),))
    content = one_sheet(
        ["Report"], ["Nr", "Feld", "D"], [1041, "solid", 2.91], [1041, "clear", 0.02]
    )
    sheet = read(content, "a.xlsx", site)
    assert problems(sheet) == []
    assert sheet.read_as == "profile p"
    assert only(sheet).job.value == "1041"
    assert only(sheet).patches[0].density.trace.cell == "Readings!C3"


@pytest.mark.parametrize(
    ("content", "name", "says"),
    [
        (one_sheet(["hello"]), "a.xlsx", "no field or column of a sheet is found on Readings"),
        (b"PK\x03\x04 not a zip", "a.xlsx", "damaged or was cut off"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000),
            "a.xls",
            "cannot be read: it is damaged",
        ),
        (b"<html><table></table></html>\n", "a.xls", "the file is no workbook"),
        (b"%PDF-1.7\n", "a.ods", "the file is no workbook"),
    ],
)
def test_what_is_no_workbook_says_so(content, name, says):
    with pytest.raises(UnreadableSheetError, match=says):
        read(content, name)


def test_a_typed_sheet_named_as_a_workbook_is_read():
    assert problems(read("job,1\nmeter,T\npatch,density\nsolid,2.9\n", "a.xls")) == []


def test_without_the_library_the_reason_and_the_way_out_are_said(monkeypatch):
    monkeypatch.setattr(workbook_cells.importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(
        UnreadableSheetError, match="the library for them is not installed"
    ) as refused:
        read(SIMPLE, "a.xlsx")
    assert "extra spreadsheets" in refused.value.do


def test_a_reader_that_hangs_is_ended(monkeypatch):
    monkeypatch.setattr(workbook_cells, "TIME_S", 0.001)
    with pytest.raises(UnreadableSheetError, match=r"took longer than 0\.001 s"):
        cells_of(SIMPLE, LIMITS)


def test_the_process_that_reads_is_isolated_and_gets_nothing_of_the_environment(monkeypatch):
    seen = {}
    run = subprocess.run

    def watched(command, **options):
        seen.update(options, command=command)
        return run(command, **options)

    monkeypatch.setattr(workbook_cells.subprocess, "run", watched)
    cells_of(SIMPLE, LIMITS)
    assert seen["env"] == {}
    assert seen["command"][1] == "-I"


@pytest.mark.parametrize(
    ("row", "column", "name"),
    [(1, 1, "A1"), (5, 26, "Z5"), (5, 27, "AA5"), (9, 703, "AAA9"), (1048576, 16384, "XFD1048576")],
)
def test_cells_are_named_as_spreadsheets_name_them(row, column, name):
    assert cell_name(row, column) == name
    assert position(name) == (row, column)


@pytest.mark.parametrize("name", ["", "A", "1", "A0", "A-1", "AAAA1", "A1:B2", "\uff211"])
def test_what_is_no_cells_name_is_none(name):
    assert position(name) is None
