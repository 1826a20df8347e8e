"""The parser alone. The format: ISO 28178:2022 and CGATS.17, clauses from memory, and real files.

The reference files are read where they lie and are not part of the project; without them that part
is skipped.
"""

from pathlib import Path

import pytest
import yaml

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.cgats import parse, pieces_of, unquoted
from gatekeeper.readers.encoding import decode

OWN = Path(__file__).parent / "cgats"
REFERENCE = Path(__file__).parents[4] / "shared" / "reference" / "cgats"


def expected_files():
    for folder in (OWN, REFERENCE):
        listing = folder / "expected.yaml"
        if not listing.exists():
            reason = "the reference files are not here"
            yield pytest.param(None, None, id=folder.name, marks=pytest.mark.skip(reason=reason))
            continue
        for entry in yaml.safe_load(listing.read_text("utf-8"))["files"]:
            yield pytest.param(folder / entry["file"], entry, id=entry["file"])


@pytest.mark.parametrize(("path", "expected"), list(expected_files()))
def test_files_have_the_fields_rows_and_cells_that_were_counted(path, expected):
    parsed = parse(decode(path.read_bytes(), "windows-1252").text)
    assert parsed.identification == expected["first_line"]
    assert len(parsed.tables) == len(expected["tables"])
    for table, counted in zip(parsed.tables, expected["tables"], strict=True):
        first = [cell.text for cell in table.rows[0]]
        last = [cell.text for cell in table.rows[-1]]
        assert len(table.fields) == counted["fields"]
        assert len(table.rows) == counted["rows"]
        assert table.fields[-1] == counted["last_field"]
        assert table.fields[: len(counted.get("first_fields", []))] == counted.get(
            "first_fields", []
        )
        assert first[: len(counted["first_row_start"])] == counted["first_row_start"]
        assert last[: len(counted["last_row_start"])] == counted["last_row_start"]
        assert last[-1] == counted["last_row_end"]
        assert table.miscounts == []
        assert table.ended


@pytest.mark.skipif(not REFERENCE.exists(), reason="the reference files are not here")
def test_the_densities_of_a_real_transmission_target_add_up():
    path = REFERENCE / "it8-7-1-transmissive-a.it8"
    counted = yaml.safe_load((REFERENCE / "expected.yaml").read_text("utf-8"))
    expected = next(e for e in counted["files"] if e["file"] == path.name)["tables"][0]
    (table,) = parse(decode(path.read_bytes(), "windows-1252").text).tables
    column = table.fields.index("D_VIS")
    visual = {row[0].text: float(row[column].text) for row in table.rows}
    assert min(visual.values()) == expected["D_VIS"]["min"]
    assert max(visual.values()) == expected["D_VIS"]["max"]
    assert sum(visual.values()) == pytest.approx(expected["D_VIS"]["sum"], abs=1e-9)
    assert {name: visual[name] for name in expected["D_VIS_of"]} == expected["D_VIS_of"]


def table(rows, fields="NAME D_VIS", above=""):
    return (
        f"CGATS.17\n{above}BEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n{rows}\nEND_DATA\n"
    )


def cells(text):
    return [[cell.text for cell in row] for row in parse(text).tables[0].rows]


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ("a 1\nb 2", [["a", "1"], ["b", "2"]]),
        ("a 1 b 2", None),  # two rows in one line have more values than a row
        ("a\n1\nb\n2", [["a", "1"], ["b", "2"]]),
        ('"a b" 1', [["a b", "1"]]),
        ('"a ""b""" 1', [['a "b"', "1"]]),
        ("a b\t1", [["a b", "1"]]),
        ("a\t", [["a", ""]]),
        ("\t1", [["", "1"]]),
        ("a\t1\t\t", [["a", "1"]]),
        ("   a     1   ", [["a", "1"]]),
        ("a\t\t1", [["a", "1"]]),
        ("a 1 # why", [["a", "1"]]),
        ("# nothing\n\n a 1", [["a", "1"]]),
        ('"# a" 1', [["# a", "1"]]),
        ('a "" ', [["a", ""]]),
    ],
)
def test_rows_split_at_single_tabs_when_that_fits_and_else_at_blanks(rows, found):
    if found is None:
        with pytest.raises(UnreadableSheetError, match="4 values for 2 fields"):
            parse(table(rows))
        return
    assert cells(table(rows)) == found


def test_every_cell_knows_its_line_and_field():
    parsed = parse(table("a 1\nb\n2"))
    assert [(cell.line, cell.column) for row in parsed.tables[0].rows for cell in row] == [
        (6, 1),
        (6, 2),
        (7, 1),
        (8, 2),
    ]


def test_header_values_lose_quotes_and_comments_and_keep_their_line():
    parsed = parse(table("a 1", above='JOB "1041 # b" # comment\nRULING 65 lpi\nURL\n'))
    assert [tuple(entry) for entry in parsed.tables[0].header] == [
        ("JOB", "1041 # b", 2),
        ("RULING", "65 lpi", 3),
        ("URL", "", 4),
    ]


def test_counts_that_disagree_are_kept_beside_the_rows():
    above = "NUMBER_OF_FIELDS 3\nNUMBER_OF_SETS 7\n"
    (found,) = parse(table("a 1\nb 2", above=above)).tables
    assert [
        (miscount.what, miscount.stated, miscount.found, miscount.line)
        for miscount in found.miscounts
    ] == [
        ("fields", "3", 2, 2),
        ("rows", "7", 2, 3),
    ]
    assert len(found.rows) == 2


def test_a_missing_end_of_data_is_kept_as_not_ended():
    (found,) = parse(table("a 1").replace("END_DATA\n", "")).tables
    assert len(found.rows) == 1
    assert not found.ended


@pytest.mark.parametrize(
    ("text", "says", "where"),
    [
        ("CGATS.17\nBEGIN_DATA\na 1\nEND_DATA\n", "BEGIN_DATA_FORMAT is missing", "line 2"),
        ("CGATS.17\nJOB 1\n", "BEGIN_DATA is missing", ""),
        ("", "BEGIN_DATA is missing", ""),
        ("CGATS.17\nBEGIN_DATA_FORMAT\nA B\n", "BEGIN_DATA_FORMAT has no END_DATA_FORMAT", ""),
        (
            "CGATS.17\nBEGIN_DATA_FORMAT\nA B\nBEGIN_DATA\n1 2\n",
            "BEGIN_DATA stands where",
            "line 4",
        ),
        (table("a 1 2"), "a row has 3 values for 2 fields", "line 6"),
        (table("a\n1 2"), "a row has 3 values for 2 fields", "lines 6 to 7"),
        (table("a 1\nb"), "the last row has 1 value for 2 fields", "line 7"),
    ],
)
def test_what_cannot_be_told_apart_is_refused_with_its_line(text, says, where):
    with pytest.raises(UnreadableSheetError) as refused:
        parse(text)
    assert says in refused.value.what
    assert refused.value.where == where


def test_limits_hold():
    assert len(parse(table("a 1\n" * 5), max_rows=5).tables[0].rows) == 5
    with pytest.raises(UnreadableSheetError, match="more than 5 rows"):
        parse(table("a 1\n" * 6), max_rows=5)
    with pytest.raises(UnreadableSheetError, match="more than 3 fields"):
        parse(table("1 2 3 4", fields="A B C D"), max_columns=3)
    with pytest.raises(UnreadableSheetError, match="more than 3 tables"):
        parse(table("1 2") + "BEGIN_DATA\n1 2\nEND_DATA\n" * 3, max_columns=3)


def test_an_unmatched_quote_is_a_token_of_its_own_and_costs_no_time():
    assert pieces_of('"a b') == ['"', "a", "b"]
    assert unquoted('"') == '"'
    assert len(pieces_of('"' * 100_001)) > 0
