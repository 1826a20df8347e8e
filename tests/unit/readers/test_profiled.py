import pytest
from meter_files import GOOD, TABLE, site
from reading import densities, only, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.choose import looks_like_sheet
from gatekeeper.readers.interface import Declarations
from gatekeeper.sheet import Bound, PatchKind, Trace, ZeroedOn


def test_a_flat_table_is_read_through_its_profile():
    sheet = read(TABLE, declarations=site(GOOD))
    negative = only(sheet)
    assert problems(sheet) == []
    assert sheet.read_as == "profile bench-meter"
    assert negative.job.value == "1041"
    assert negative.job.trace == Trace(3, 2)
    assert negative.meter.value == "T-04"
    assert negative.zeroed_on is ZeroedOn.CLEAR
    assert [
        (patch.kind, patch.density.value, patch.density.bound) for patch in negative.patches
    ] == [
        (PatchKind.CLEAR, 0.0, Bound.EXACT),
        (PatchKind.SOLID, 2.91, Bound.EXACT),
        (PatchKind.SOLID, 4.5, Bound.AT_LEAST),
        (PatchKind.TINT, 0.312, Bound.EXACT),
        (PatchKind.CLEAR, 0.01, Bound.AT_MOST),
    ]
    assert negative.patches[3].nominal.value == 50
    assert negative.patches[1].density.trace == Trace(4, 4)


def test_a_file_that_no_profile_is_for_goes_to_the_other_readers():
    sheet = read("job,1041\nmeter,T-04\npatch,density\nsolid,2.9\n", declarations=site(GOOD))
    assert sheet.read_as == "typed sheet (CSV)"


def test_a_meters_file_is_a_sheet_under_any_ending():
    assert looks_like_sheet("dump.dat", TABLE.encode(), site(GOOD))
    assert not looks_like_sheet("dump.dat", TABLE.encode(), Declarations())


def test_two_profiles_for_one_file_are_refused_and_named():
    other = GOOD.replace("bench-meter", "second-meter")
    with pytest.raises(UnreadableSheetError, match="bench-meter, second-meter"):
        read(TABLE, declarations=site(GOOD, other))


def profile(columns, rest=""):
    return f"""profile: p
recognise: {{columns: [Feld, R]}}
columns: {{patch: Feld, {columns}}}
{rest}"""


@pytest.mark.parametrize(
    ("columns", "rest", "text", "attribute", "value", "bound"),
    [
        ("reading: R", "quantity: density", "2.91", "density", 2.91, "exact"),
        ("reading: R", "quantity: dot", "50.8", "dot_percent", 50.8, "exact"),
        ("reading: R", "quantity: transmittance", "0.12", "transmittance_percent", 0.12, "exact"),
        # ISO 5-2: density is the logarithm of the opacity, 1/T; T = 0.1 % gives 3.
        ("reading: R", "quantity: opacity", "1000", "density", 3.0, "exact"),
        ("reading: R", "quantity: opacity", "> 1000", "density", 3.0, "at least"),
        ("density: R", "density_sign: minus", "-2.91", "density", 2.91, "exact"),
        ("density: R", "density_sign: minus", "< -4.5", "density", 4.5, "at least"),
        ("dot: R", "dot_counts: black", "49.2", "dot_percent", 50.8, "exact"),
        ("dot: R", "dot_counts: black", "> 98", "dot_percent", 2.0, "at most"),
        ("dot: R", "scale: fraction", "0.58", "dot_percent", 58.0, "exact"),
        ("dot: R", "{scale: fraction, dot_counts: black}", "0.42", "dot_percent", 58.0, "exact"),
        ("transmittance: R", "scale: fraction", "0.001", "transmittance_percent", 0.1, "exact"),
        ("density: R", "decimal_mark: comma", '"1,234"', "density", 1.234, "exact"),
        (
            "density: R",
            "over_range: {words: [OL], at_least: 4.2}",
            "ol",
            "density",
            4.2,
            "at least",
        ),
        (
            "dot: R",
            "over_range: {words: [OL], at_least: 100}\ndot_counts: black",
            "OL",
            "dot_percent",
            0.0,
            "at most",
        ),
    ],
)
def test_quantities_signs_and_scales_come_out_as_the_sheet_holds_them(
    columns, rest, text, attribute, value, bound
):
    rest = rest.strip("{}").replace(", ", "\n") if rest.startswith("{") else rest
    sheet = read(f"Feld,R\nsolid,{text}\n", declarations=site(profile(columns, rest)))
    number = getattr(only(sheet).patches[0], attribute)
    assert problems(sheet) == []
    assert number.value == value
    assert number.bound == bound
    assert number.written == text.strip('"')


@pytest.mark.parametrize(
    ("rest", "rows", "says"),
    [
        ("", "solid,OL", "not of which limit"),
        ("", "Vollton,2.9", '"Vollton" is no kind of patch that the profile knows'),
        ("", ",2.9", "the row names no patch"),
        ("", "solid,2,91", "more cells than there are columns"),
        ("", "solid,-2.91", "no possible density"),
        ("patches: {order: [clear, solid]}", "x,0.1\ny,2.9\nz,2.8", "beyond the 2 patches"),
        (
            "patches: {order: [clear, solid]}",
            "x,0.1",
            "lists 2 patches in order, and the file has 1 row",
        ),
        (
            "patches: {patterns: {solid: '^S', tint: '^ST'}}",
            "STx,2.9",
            "fits the patterns of solid and of tint",
        ),
    ],
)
def test_what_the_profile_cannot_read_is_a_problem(rest, rows, says):
    sheet = read(
        f"Feld,R\nclear,0.02\n{rows}\n".replace(
            "clear,0.02\n", "" if "order" in rest else "clear,0.02\n"
        ),
        declarations=site(profile("density: R", rest)),
    )
    assert any(says in problem for problem in problems(sheet)), problems(sheet)


def test_an_opacity_of_nothing_is_refused():
    sheet = read("Feld,R\nsolid,0\n", declarations=site(profile("reading: R", "quantity: opacity")))
    assert "an opacity of 0 does not exist" in problems(sheet)[0]


def test_patches_are_told_by_their_nominal():
    text = profile("nominal: N, density: R", "patches: {by_nominal: yes}").replace(
        "patch: Feld, ", ""
    )
    sheet = read("Feld,N,R\na,0,0.02\nb,50,0.31\nc,100,2.9\n", declarations=site(text))
    assert [patch.kind for patch in only(sheet).patches] == ["clear", "tint", "solid"]
    assert only(sheet).patches[1].nominal.value == 50


def test_a_nominal_tells_nothing_where_the_profile_does_not_say_so():
    text = profile("nominal: N, density: R")
    sheet = read("Feld,N,R\nb,50,0.31\n", declarations=site(text))
    assert '"b" is no kind of patch that the profile knows' in problems(sheet)[0]


def test_patches_are_told_by_their_order_in_each_separation():
    order = "patches: {order: [clear, solid, tint 50]}"
    text = profile("density: R, separation: S", order).replace("patch: Feld, ", "")
    rows = "".join(
        f"x,{density},{s}\n" for s in ("black", "cyan") for density in ("0", "2.9", "0.31")
    )
    sheet = read("Feld,R,S\n" + rows, declarations=site(text))
    assert problems(sheet) == []
    assert [one.separation_name for one in sheet.negatives] == ["black", "cyan"]
    for one in sheet.negatives:
        assert [patch.kind for patch in one.patches] == ["clear", "solid", "tint"]
        assert one.patches[2].nominal.value == 50


def test_rows_that_are_no_patch_are_left_out_by_their_word():
    text = profile("density: R", "patches: {ignore: [Mean]}")
    sheet = read("Feld,R\nsolid,2.9\nMean,2.9\n", declarations=site(text))
    assert problems(sheet) == []
    assert densities(sheet) == [2.9]


def test_a_meter_that_stamps_every_reading_was_used_at_the_last():
    text = profile("density: R, measured: T")
    rows = "solid,2.9,2026-11-20 10:05\nsolid,2.8,2026-11-20 10:07\nclear,0,2026-11-20 10:06\n"
    sheet = read("Feld,R,T\n" + rows, declarations=site(text))
    assert problems(sheet) == []
    assert only(sheet).measured.instant.minute == 7


def test_two_jobs_in_one_flat_table_are_a_problem():
    text = profile("density: R, job: J")
    one = read("Feld,R,J\nsolid,2.9,1041\nsolid,2.9,1042\n", declarations=site(text))
    assert "job is given twice" in problems(one)[0]
    text = profile("density: R, job: J, separation: S")
    two = read("Feld,R,J,S\nsolid,2.9,1041,black\nsolid,2.9,1042,cyan\n", declarations=site(text))
    assert "more than one job: 1041, 1042" in problems(two)[0]


def test_dates_are_read_as_the_profile_declares_them():
    text = profile("density: R, measured: T", "date_formats: ['%d/%m/%Y %H:%M']")
    sheet = read("Feld,R,T\nsolid,2.9,03/04/2026 10:05\n", declarations=site(text))
    assert only(sheet).measured.instant.month == 4


def test_units_that_the_file_leaves_out_are_taken_from_the_profile():
    text = profile(
        "length: R, nominal: N, ruling: L", "units: {length: in, nominal: in, ruling: l/cm}"
    )
    sheet = read("Feld,N,R,L\nlength,24,23.58,25\n", declarations=site(text))
    negative = only(sheet)
    assert problems(sheet) == []
    assert negative.ruling_lpi.value == 63.5
    assert (negative.patches[0].nominal.value, negative.patches[0].length_mm.value) == (
        609.6,
        598.932,
    )


def test_columns_by_position_need_no_column_names():
    text = """profile: p
recognise: {first_line: '^EXPORT'}
column_names: no
separator: blanks
skip_lines: 1
columns: {patch: 1, density: 4}
"""
    sheet = read("EXPORT 7\nsolid 1 x 2.91\nclear 2 x 0.02\n", declarations=site(text))
    assert problems(sheet) == []
    assert densities(sheet) == [2.91, 0.02]
    assert only(sheet).patches[0].density.trace == Trace(2, 4)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Feld,R\nsolid,2.9\n", None),
        ("FELD , r\nsolid,2.9\n", None),
        ("Feld;R\nsolid;2.9\n", None),
        ("Feld\tR\nsolid\t2.9\n", None),
        ("\ufeffFeld,R\nsolid,2.9\n", None),
        ('"Feld","R"\n"solid","2.9"\n', None),
        ("Feld,R,R\nsolid,2.9,2.8\n", 'two columns are named "r"'),
    ],
)
def test_column_names_are_found_whatever_separates_them(text, says):
    sheet = read(text, declarations=site(profile("density: R")))
    assert densities(sheet) == [2.9]
    assert [says] == problems(sheet) if says else problems(sheet) == []


def test_a_missing_column_is_noted_and_a_misspelt_one_is_a_problem():
    declared = site(profile("density: R, job: Auftrag"))
    assert (
        'the column "Auftrag" (job) is not there'
        in read("Feld,R\nsolid,2.9\n", declarations=declared).notes
    )
    sheet = read("Feld,R,Auftrg\nsolid,2.9,1041\n", declarations=declared)
    assert 'looks like it: "auftrg"' in problems(sheet)[0]


def test_a_file_without_its_column_of_readings_is_refused():
    text = profile("density: D").replace("[Feld, R]", "[Feld, Nr]")
    with pytest.raises(UnreadableSheetError, match="none of the columns with readings"):
        read("Feld,Nr\nsolid,1\n", declarations=site(text))


ROW = "3;1041;V;OL;rechts"


@pytest.mark.parametrize("cut", ["3;1041;V\n;2,40;rechts", "3;1041;Vollton"])
def test_row_that_ends_before_its_reading_is_a_problem(cut):
    sheet = read(TABLE.replace(ROW, cut), declarations=site(GOOD))
    assert "the row ends before its reading" in problems(sheet)


def test_empty_cell_says_that_nothing_was_read():
    sheet = read(TABLE.replace(ROW, "3;1041;V;;rechts"), declarations=site(GOOD))
    assert problems(sheet) == []
