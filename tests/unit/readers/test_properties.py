"""What is written reads back equal in every format, and no spelling of a number changes it."""

import io
import json
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st
from reading import numbers, problems, read

from gatekeeper.errors import UnreadableSheetError
from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.moments import moment_of
from gatekeeper.readers.numerals import Numerals
from gatekeeper.readers.profile import load_profile
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.readers.whole import ends_whole
from gatekeeper.sheet import Bound

DENSITIES = st.integers(-20, 450).map(lambda hundredths: f"{Decimal(hundredths) / 100:.2f}")
PERCENTS = st.integers(0, 1000).map(lambda tenths: f"{Decimal(tenths) / 10:.1f}")
PLACES = st.sampled_from(["left", "right", "centre", ""])
PATCHES = st.one_of(
    st.tuples(st.just("clear"), st.just(""), DENSITIES, st.just(""), PLACES),
    st.tuples(st.just("solid"), st.just(""), DENSITIES, st.just(""), PLACES),
    st.tuples(st.just("tint"), st.integers(0, 100).map(str), DENSITIES, PERCENTS, PLACES),
)
SHEETS = st.lists(PATCHES, min_size=1, max_size=8)
COLUMNS = ("patch", "nominal", "density", "dot", "where")


def as_text(patches, separator):
    rows = [("job", "1041"), ("meter", "T-04"), (), COLUMNS, *patches]
    return "".join(separator.join(row) + "\n" for row in rows)


def as_cgats(patches):
    rows = "".join(
        f'{kind} "{nominal}" {density} "{dot}" "{where}"\n'
        for kind, nominal, density, dot, where in patches
    )
    return (
        'CGATS.17\nJOB "1041"\nMETER "T-04"\nNUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\n'
        "PATCH NOMINAL D_VIS DOT WHERE\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(patches)}\nBEGIN_DATA\n{rows}END_DATA\n"
    )


def as_json(patches):
    rows = [
        {name: text for name, text in zip(COLUMNS, patch, strict=True) if text} for patch in patches
    ]
    return json.dumps({"job": "1041", "meter": "T-04", "patches": rows})


def as_xlsx(patches):
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True, "strings_to_numbers": True}) as book:
        sheet = book.add_worksheet()
        for number, row in enumerate([("job", "1041"), ("meter", "T-04"), (), COLUMNS, *patches]):
            sheet.write_row(number, 0, row)
    return target.getvalue()


def as_dump(patches):
    lines = [f"{k}|{n}|{d}|{o}|{w}" for k, n, d, o, w in patches]
    return "LOG\nJob 1041\n" + "".join(line + "\n" for line in lines)


DUMP = Declarations(
    profiles=(
        load_profile(
            b"""profile: dump
format: text
recognise: {first_line: '^LOG'}
constants: {meter: T-04}
lines:
  - '^Job (?P<job>\\S+)'
  - '^(?P<patch>\\w+)\\|(?P<nominal>[^|]*)\\|(?P<density>[^|]*)\\|(?P<dot>[^|]*)\\|(?P<where>.*)$'
""",
            "dump.yaml",
        ),
    )
)


@given(SHEETS)
def test_the_same_readings_are_the_same_in_every_format_of_text(patches):
    expected = numbers(read(as_text(patches, ",")))
    for content, name, site in (
        (as_text(patches, ";"), "a.csv", None),
        (as_text(patches, "\t"), "a.tsv", None),
        (as_text(patches, ";").replace(".", ","), "a.csv", None),
        (as_text(patches, ";").encode("utf-16"), "a.csv", None),
        (as_cgats(patches), "a.it8", None),
        (as_json(patches), "a.json", None),
        (as_dump(patches), "a.txt", DUMP),
    ):
        sheet = read(content, name, site)
        assert problems(sheet) == []
        assert numbers(sheet) == expected
        assert sheet.negatives[0].job.value == "1041"
        assert sheet.negatives[0].meter.value == "T-04"
        assert ends_whole(content if isinstance(content, bytes) else content.encode())


@settings(max_examples=10, deadline=None)  # each example is a process of its own
@given(SHEETS)
def test_the_same_readings_are_the_same_in_a_workbook(patches):
    sheet = read(as_xlsx(patches), "a.xlsx")
    assert problems(sheet) == []
    assert numbers(sheet) == numbers(read(as_text(patches, ",")))


@given(
    thousandths=st.integers(-999_999, 999_999),
    minus=st.sampled_from("-−–"),
    mark=st.sampled_from(".,"),
    blanks=st.sampled_from(["", " ", "\t"]),
    bound=st.sampled_from(["", "> ", ">", "<", "≤ "]),
)
def test_every_spelling_of_a_number_has_the_same_value(thousandths, minus, mark, blanks, bound):
    # Four decimals, so that no mark can be taken for one between thousands.
    exact = Decimal(thousandths) / 1000
    text = f"{abs(exact):.4f}".replace(".", mark)
    spelled = blanks + bound + (minus if exact < 0 else "") + text + blanks
    numeral = Numerals().read(spelled)
    assert numeral.value == float(exact)
    assert (numeral.bound is Bound.EXACT) == (bound == "")


def tried(call):
    """Return what comes back and the refusal, one of them None."""
    try:
        return call(), None
    except RefusedValueError as refused:
        return None, refused


@given(mantissa=st.integers(1, 99999), exponent=st.integers(-9, 9))
def test_scientific_notation_is_the_number_it_stands_for(mantissa, exponent):
    assert Numerals().read(f"{mantissa}e{exponent}").value == float(f"{mantissa}e{exponent}")


@given(st.text(st.sampled_from("0123456789.,-+−eE<>≥ '%OLnaif_x\u00a0\uff12"), max_size=12))
def test_any_text_is_one_finite_number_or_refused(text):
    numeral, refused = tried(lambda: Numerals().read(text))
    if refused:
        assert refused.says
        assert refused.do
        return
    assert abs(numeral.value) < float("inf")
    assert Numerals().read(repr(numeral.value)).value == numeral.value


@given(st.text(st.sampled_from("0123456789-/.: TZ+apmNov,W"), max_size=24))
def test_any_text_is_one_instant_with_an_offset_or_refused(text):
    berlin = ZoneInfo("Europe/Berlin")
    moment, refused = tried(lambda: moment_of(text, time_zone=berlin, date_formats=["%d.%m.%y"]))
    if refused:
        assert refused.says
        assert refused.do
        return
    assert moment.instant.utcoffset() is not None
    again = moment_of(moment.instant.isoformat(), time_zone=ZoneInfo("UTC"))
    assert again.instant == moment.instant


@pytest.mark.parametrize("cut", range(1, 60))
def test_a_copy_that_is_cut_never_gives_other_readings_than_the_whole(cut):
    whole = as_text([("solid", "", "2.91", "", "left"), ("clear", "", "0.02", "", "left")], ",")
    beginning = whole[: len(whole) - cut]
    if ends_whole(beginning.encode()):
        try:
            found = numbers(read(beginning))[0][1]
        except UnreadableSheetError:
            return
        assert found == numbers(read(whole))[0][1][: len(found)]
