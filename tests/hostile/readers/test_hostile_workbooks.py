"""Workbooks that attack their reader: each is refused with its reason; only a child may end."""

import io
import zipfile

import pytest
import xlsxwriter

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.readers.workbook_cells import cells_of

SHEET = "xl/worksheets/sheet1.xml"
STRINGS = "xl/sharedStrings.xml"
DTD = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'


def harmless():
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        sheet = book.add_worksheet("R")
        for number, row in enumerate([("job", "1041"), ("patch", "density"), ("solid", 2.91)]):
            sheet.write_row(number, 0, row)
    return target.getvalue()


HARMLESS = harmless()


def edited(changes, extra=()):
    """Return the harmless workbook with parts changed by a function and further parts added."""
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(HARMLESS)) as source,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as copy,
    ):
        for name in source.namelist():
            data = source.read(name)
            copy.writestr(name, changes[name](data) if name in changes else data)
        for name, data in extra:
            copy.writestr(name, data)
    return target.getvalue()


def replacing(old, new):
    def change(data):
        assert old in data
        return data.replace(old, new)

    return change


def with_doctype(data):
    head, mark, rest = data.partition(b"?>")
    return head + mark + DTD + rest


def ods(content, manifest=b"<manifest/>", styles=b"<styles/>"):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", manifest)
        archive.writestr("styles.xml", styles)
    return target.getvalue()


def ods_table(rows):
    return ods(
        b'<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        b'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        b'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">'
        b'<office:body><office:spreadsheet><table:table table:name="R">'
        + rows
        + b"</table:table></office:spreadsheet></office:body></office:document-content>"
    )


def locked():
    content = bytearray(HARMLESS)
    with zipfile.ZipFile(io.BytesIO(HARMLESS)) as archive:
        first = archive.infolist()[0].header_offset
    content[first + 6] |= 1
    directory = content.index(b"PK\x01\x02")
    content[directory + 8] |= 1
    return bytes(content)


def two_parts_of_one_name():
    target = io.BytesIO(HARMLESS)
    with zipfile.ZipFile(target, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr(SHEET, b"<worksheet/>")
    return target.getvalue()


CELL = b"<table:table-cell><text:p>x</text:p></table:table-cell>"

FILES = {
    "a stray value far out": (
        edited({SHEET: replacing(b'<c r="B3"', b'<c r="XFD1048576"')}),
        "row 1048576, column 16384 is beyond",
    ),
    "a value in a row too far down": (
        edited({SHEET: replacing(b'<c r="B3"', b'<c r="B30000"')}),
        "row 30000, column 2 is beyond the 20000 rows",
    ),
    "a wrong count of strings": (
        edited({STRINGS: replacing(b'uniqueCount="', b'uniqueCount="99999999')}),
        "more than it can have",
    ),
    "a count of strings that is no number": (
        edited({STRINGS: replacing(b'count="', b'count="-')}),
        "more than it can have",
    ),
    "entities": (edited({SHEET: with_doctype}), "a document type declaration"),
    "entities in the strings": (edited({STRINGS: with_doctype}), "a document type declaration"),
    "entities in a part that nobody reads": (
        edited({}, [("xl/custom.xml", b'<?xml version="1.0"?>' + DTD + b"<x>&b;</x>")]),
        "a document type declaration",
    ),
    "a part that expands": (
        edited({}, [("xl/media/image1.png", bytes(21_000_000))]),
        "more than 20000000 bytes in one part",
    ),
    "parts that expand together": (
        edited({}, [(f"xl/media/{number}.png", bytes(8_000_000)) for number in range(8)]),
        "more than 60000000 bytes when expanded",
    ),
    "very many parts": (
        edited({}, [(f"x/{number}", b"") for number in range(600)]),
        "more than 500 parts",
    ),
    "very many sheets": (
        edited(
            {
                "xl/workbook.xml": replacing(
                    b"</sheets>",
                    b"".join(
                        b'<sheet name="s%d" sheetId="%d" r:id="rId1"/>' % (n, n) for n in range(60)
                    )
                    + b"</sheets>",
                )
            }
        ),
        "more than 50 sheets",
    ),
    "deep nesting": (
        edited({SHEET: lambda _data: b"<a>" * 5000 + b"</a>" * 5000}),
        "nested or filled",
    ),
    "broken XML": (
        edited({SHEET: replacing(b"</sheetData>", b"</sheetDat>")}),
        "its XML is damaged",
    ),
    "a lock": (locked(), "locked with a password"),
    "two parts of one name": (two_parts_of_one_name(), "two parts of one name"),
    "a text document": (
        edited({"xl/workbook.xml": bytes}, ())
        .replace(b"xl/workbook.xml", b"wd/workbook.xml")
        .replace(b"xl/worksheets", b"wd/worksheets"),
        "the file is no workbook",
    ),
    "an ODS that repeats a cell without end": (
        ods_table(
            b'<table:table-row table:number-rows-repeated="1000000">'
            + CELL.replace(b"cell>", b'cell table:number-columns-repeated="16384">', 1)
            + b"</table:table-row>"
        ),
        "is beyond the 20000 rows and 400 columns",
    ),
    "an ODS that repeats a row without end": (
        ods_table(
            b'<table:table-row table:number-rows-repeated="1000000">' + CELL + b"</table:table-row>"
        ),
        "is beyond the 20000 rows",
    ),
    "an ODS with entities": (ods(b'<?xml version="1.0"?>' + DTD + b"<x>&b;</x>"), "document type"),
    "an ODS with entities in its styles": (
        ods(b"<x/>", styles=b'<?xml version="1.0"?>' + DTD + b"<x>&b;</x>"),
        "document type",
    ),
    "an ODS that is locked": (
        ods(b"\x01\x02", b'<manifest><encryption-data checksum="x"/></manifest>'),
        "locked with a password",
    ),
    "a binary workbook": (
        edited({}).replace(b"xl/workbook.xml", b"xl/workbook.bin"),
        "a binary workbook",
    ),
}


@pytest.mark.parametrize("name", FILES)
def test_it_is_refused_with_its_reason_and_what_to_do(name):
    content, says = FILES[name]
    with pytest.raises(UnreadableSheetError) as refused:
        read_sheet(RawFile("a.xlsx", content), Declarations())
    assert says in refused.value.what
    assert refused.value.do


def test_the_harmless_workbook_is_read():
    sheet = read_sheet(RawFile("a.xlsx", HARMLESS), Declarations())
    assert [patch.density.value for patch in sheet.negatives[0].patches] == [2.91]


def test_a_value_in_the_last_cell_allowed_is_read():
    limits = Declarations(max_rows=3, max_columns=2)
    assert read_sheet(RawFile("a.xlsx", HARMLESS), limits).problems == ()
    for tighter in (
        Declarations(max_rows=2, max_columns=2),
        Declarations(max_rows=3, max_columns=1),
    ):
        with pytest.raises(UnreadableSheetError, match="is beyond the"):
            read_sheet(RawFile("a.xlsx", HARMLESS), tighter)


def test_empty_rows_and_cells_may_repeat_to_the_end_of_an_ods():
    rows = (
        b'<table:table-row><table:table-cell office:value-type="string">'
        b"<text:p>job</text:p></table:table-cell>"
        b'<table:table-cell office:value-type="string"><text:p>1041</text:p></table:table-cell>'
        b'<table:table-cell table:number-columns-repeated="16382"/></table:table-row>'
        b'<table:table-row table:number-rows-repeated="1048575">'
        b'<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    )
    sheet = read_sheet(RawFile("a.ods", ods_table(rows)), Declarations())
    assert sheet.negatives[0].job.value == "1041"


def text_cell(text):
    return (
        b'<table:table-cell office:value-type="string"><text:p>%s</text:p></table:table-cell>'
        % text
    )


def test_cells_that_repeat_in_an_ods_move_those_behind_them():
    percent = (
        b'<table:table-cell office:value-type="percentage" office:value="0.508">'
        b"<text:p>50.8 %</text:p></table:table-cell>"
    )
    empty = b'<table:table-cell table:number-columns-repeated="2"/>'
    names = b"".join(map(text_cell, (b"patch", b"nominal", b"density", b"where", b"dot")))
    nominal = b'<table:table-cell office:value-type="float" office:value="50"/>'
    row = text_cell(b"tint") + nominal + empty + percent
    rows = b"".join(
        b"<table:table-row>" + cells + b"</table:table-row>"
        for cells in (text_cell(b"job") + text_cell(b"1041"), names, row)
    )
    sheet = read_sheet(RawFile("a.ods", ods_table(rows)), Declarations())
    assert sheet.problems == ()
    assert sheet.negatives[0].patches[0].dot_percent.value == 50.8


def test_a_workbook_that_ends_its_reader_ends_only_the_child():
    # Without our look before it, the one stray cell makes the library ask for all memory and abort.
    content = edited({SHEET: replacing(b'<c r="B3"', b'<c r="XFD1048576"')})
    with pytest.raises(
        UnreadableSheetError, match=r"ended the program that reads it|cannot be read"
    ):
        cells_of(content, Declarations())


def test_macros_and_links_are_named_and_left_alone():
    content = edited(
        {},
        [("xl/vbaProject.bin", b"x"), ("xl/externalLinks/externalLink1.xml", b"<externalLink/>")],
    )
    notes = read_sheet(RawFile("a.xlsm", content), Declarations()).notes
    assert "the workbook has macros; none was run" in notes
    assert "the workbook links to other files; none was followed" in notes


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "@SUM(A1)", "-1+1"])
def test_text_that_looks_like_a_formula_is_only_text(text):
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        sheet = book.add_worksheet("R")
        sheet.write_string(0, 0, "job")
        sheet.write_string(0, 1, text)
        sheet.write_row(1, 0, ["patch", "density"])
        sheet.write_row(2, 0, ["solid", 2.9])
    sheet = read_sheet(RawFile("a.xlsx", target.getvalue()), Declarations())
    assert sheet.negatives[0].job.value == text
