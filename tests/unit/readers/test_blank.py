import csv
import io
import unicodedata
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading import numbers, only, problems, read

from gatekeeper.readers.blank import Blank, BlankPatch, blank_csv, blank_xlsx
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.workbook_cells import cells_of
from gatekeeper.sheet import PatchKind

LOTS = [f"M5-03{number:02d}" for number in range(60)]
BLANK = Blank(
    fields=("job", "film lot", "meter", "zeroed on", "measured", "ruling"),
    patches=(
        BlankPatch(PatchKind.CLEAR, where="left"),
        BlankPatch(PatchKind.SOLID, where="left"),
        BlankPatch(PatchKind.TINT, 50, "centre"),
        BlankPatch(PatchKind.LENGTH, 600.5, "around"),
    ),
    known={"workflow": "liquid-plate", "zeroed on": "clear", "job": "1041"},
    choices={"meter": ["T-04", "T-09"], "film lot": LOTS},
)
READINGS = {
    "clear": ("density", "0.02"),
    "solid": ("density", "2.91"),
    "tint": ("dot", "50.8"),
    "length": ("length", "598.93"),
}


def filled(text):
    """Type a reading into every row of a blank sheet."""
    rows = list(csv.reader(io.StringIO(text)))
    header = next(row for row in rows if row[:1] == ["patch"])
    for row in rows[rows.index(header) + 1 :]:
        column, value = READINGS[row[0]]
        row[header.index(column)] = value
    target = io.StringIO()
    csv.writer(target).writerows(rows)
    return target.getvalue()


def test_a_blank_sheet_names_what_the_workflow_asks_for():
    assert blank_csv(BLANK) == (
        "workflow,liquid-plate\njob,1041\nfilm lot,\nmeter,\n"
        "zeroed on,clear\nmeasured,\nruling,\n\n"
        "patch,nominal,density,dot,transmittance,length,where\n"
        "clear,,,,,,left\nsolid,,,,,,left\ntint,50,,,,,centre\nlength,600.5,,,,,around\n"
    )


@pytest.mark.parametrize("write", [blank_csv, blank_xlsx])
def test_a_blank_sheet_reads_back_and_lacks_only_its_readings(write):
    content = write(BLANK)
    sheet = read(content, "1041.csv" if isinstance(content, str) else "1041.xlsx")
    assert problems(sheet) == ["the sheet has no readings"]
    assert only(sheet).job.value == "1041"
    assert only(sheet).workflow.value == "liquid-plate"
    assert only(sheet).film_lot is None
    assert all("without a reading" in note for note in sheet.notes)
    assert len(sheet.notes) == 4


def test_the_workbook_has_the_rows_of_the_text_in_their_order():
    (readings, choices) = cells_of(blank_xlsx(BLANK), Declarations())
    text = [row[:1] or [""] for row in csv.reader(io.StringIO(blank_csv(BLANK)))]
    assert [[row[0][1:]] for row in readings.rows] == text
    assert (readings.visible, choices.visible) == (True, False)


def test_a_filled_sheet_reads_back_as_it_was_filled():
    sheet = read(filled(blank_csv(BLANK)))
    assert problems(sheet) == []
    assert numbers(sheet)[0][1] == [
        ("clear", None, (0.02, "exact"), None, None, None, "left"),
        ("solid", None, (2.91, "exact"), None, None, None, "left"),
        ("tint", (50.0, "exact"), None, (50.8, "exact"), None, None, "centre"),
        ("length", (600.5, "exact"), None, None, None, (598.93, "exact"), "around"),
    ]


def test_the_same_blank_gives_the_same_bytes():
    assert blank_xlsx(BLANK) == blank_xlsx(BLANK)


def test_the_workbook_offers_lists_and_checks_numbers():
    with zipfile.ZipFile(io.BytesIO(blank_xlsx(BLANK))) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml").decode()
        choices = archive.read("xl/worksheets/sheet2.xml").decode()
        strings = archive.read("xl/sharedStrings.xml").decode()
        book = archive.read("xl/workbook.xml").decode()
    assert '"T-04,T-09"' in sheet
    assert "choices!$A$1:$A$60" in sheet  # the long list stands on the hidden sheet
    assert choices.count("<c ") == 60
    assert LOTS[-1] in strings
    assert 'name="choices" sheetId="2" state="hidden"' in book
    assert '"clear,solid,tint,length"' in sheet
    assert 'type="decimal"' in sheet
    assert 'errorStyle="warning"' in sheet  # so that > 4.5 can be typed all the same


@pytest.mark.parametrize("job", ["=1+1", "@SUM(A1)", "-12", "+cmd"])
def test_a_name_that_a_spreadsheet_would_work_out_is_written_as_text_and_reads_back(job):
    blank = Blank(fields=("job",), patches=(), known={"job": job})
    for row in csv.reader(io.StringIO(blank_csv(blank))):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    assert only(read(blank_csv(blank) + "solid,,2.9\n")).job.value == job
    with zipfile.ZipFile(io.BytesIO(blank_xlsx(blank))) as archive:
        assert "<f>" not in archive.read("xl/worksheets/sheet1.xml").decode()


def test_names_that_no_reader_knows_are_refused():
    with pytest.raises(ValueError, match="'jbo' is no field"):
        Blank(fields=("jbo",), patches=())
    with pytest.raises(ValueError, match="'densty' is no column"):
        Blank(fields=(), patches=(), columns=("patch", "densty"))


NAMES = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=20)


@given(job=NAMES, customer=NAMES, where=NAMES, nominal=st.integers(0, 100))
def test_whatever_is_known_reads_back_from_csv(job, customer, where, nominal):
    blank = Blank(
        fields=("job", "customer"),
        patches=(BlankPatch(PatchKind.TINT, nominal, where),),
        known={"job": job, "customer": customer},
    )
    negative = only(read(filled(blank_csv(blank))))
    expected = [unicodedata.normalize("NFC", text) for text in (job, customer, where)]
    assert [negative.job.value, negative.customer.value, negative.patches[0].where] == expected
    assert negative.patches[0].nominal.value == nominal
