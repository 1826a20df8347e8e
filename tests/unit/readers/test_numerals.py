import pytest

from gatekeeper.readers.numerals import Numerals
from gatekeeper.readers.refusal import RefusedValueError
from gatekeeper.sheet import Bound


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2.91", 2.91),
        ("2,91", 2.91),
        (" 2.91 ", 2.91),
        ("+2.91", 2.91),
        (".91", 0.91),
        ("-0.02", -0.02),
        ("−0.02", -0.02),
        ("–0,02", -0.02),
        ("29.1e-1", 2.91),
        ("29,1E−1", 2.91),
        ("3e-5", 3e-5),
        ("0,123", 0.123),
        ("1,2345", 1.2345),
        ("1.234", 1.234),
        ("1,234.5", 1234.5),
        ("1.234,5", 1234.5),
        ("1,234,567", 1234567.0),
        ("0", 0.0),
        ("00.50", 0.5),
    ],
)
def test_every_spelling_of_a_number_has_its_one_value(text, value):
    numeral = Numerals().read(text)
    assert numeral.value == value
    assert numeral.bound is Bound.EXACT


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("50 %", 50, "%"),
        ("50%", 50, "%"),
        ("65 l/cm", 65, "l/cm"),
        ("2.91 D", 2.91, "D"),
        ("5mil", 5, "mil"),
    ],
)
def test_a_unit_behind_the_number_is_handed_on(text, value, unit):
    assert Numerals().read(text)[::2] == (value, unit)


@pytest.mark.parametrize(
    ("text", "bound", "value"),
    [
        ("> 4.5", Bound.AT_LEAST, 4.5),
        (">4.5", Bound.AT_LEAST, 4.5),
        (">=4,5", Bound.AT_LEAST, 4.5),
        ("≥ 4.5", Bound.AT_LEAST, 4.5),
        ("<0.02", Bound.AT_MOST, 0.02),
        ("≤ 0.02", Bound.AT_MOST, 0.02),
    ],
)
def test_a_compared_number_is_a_bound(text, bound, value):
    assert Numerals().read(text)[:2] == (value, bound)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,234", '"1,234" can be read as 1.234 and as 1234'),
        ("OL", "not of which limit"),
        ("o.l.", "not of which limit"),
        ("----", "gave no reading"),
        ("***", "gave no reading"),
        ("nan", "not a finite number"),
        ("-inf", "not a finite number"),
        ("1e400", "too large"),
        ("1e308", None),
        ("1_0", "is not a number"),
        ("\uff12.\uff19\uff11", "U+FF12"),
        ("٢", "U+0662"),
        ("2.", "ends in its decimal mark"),
        ("2,", "ends in its decimal mark"),
        ("2.9O", "letter O"),
        ("l.2", "letter O"),
        ("=2.91", "formula"),
        ("2 91", "one number or two"),
        ("1 234", "one number or two"),
        ("1,23,4", "odd places"),
        ("1,2345,678", "odd places"),
        ("2.91 2.88", "is not a number"),
        ("2.9.1", "odd places"),
        ("0x1F", "is not a number"),
        ("~2.9", "is not a number"),
        ("2.9±0.1", "is not a number"),
        ("", "is not a number"),
        ("1" * 5000, "longer than 40"),
        ("yes", "is not a number"),
        ("> ", "is not a number"),
    ],
)
def test_what_is_no_number_or_could_be_two_is_refused_with_its_reason(text, says):
    if says is None:
        assert Numerals().read(text).value == float(text)
        return
    with pytest.raises(RefusedValueError) as refused:
        Numerals().read(text)
    assert says in refused.value.says
    assert refused.value.do


def test_a_declared_decimal_comma_settles_what_one_comma_means():
    assert Numerals(decimal_mark=",").read("1,234").value == 1.234


def test_a_declared_thousands_comma_settles_it_the_other_way():
    assert Numerals(decimal_mark=".", thousands_marks=frozenset(",")).read("1,234").value == 1234


def test_a_point_beside_a_declared_decimal_comma_is_refused_unless_it_is_declared_too():
    with pytest.raises(RefusedValueError, match="can be read as"):
        Numerals(decimal_mark=",").read("1.234")
    declared = Numerals(decimal_mark=",", thousands_marks=frozenset("."))
    assert declared.read("1.234").value == 1234


def test_a_point_that_could_part_thousands_is_refused_in_a_file_of_decimal_commas():
    with pytest.raises(RefusedValueError, match="can be read as"):
        Numerals(commas_seen=True).read("1.234")
    assert Numerals(commas_seen=True).read("1.23").value == 1.23


@pytest.mark.parametrize("text", ["1 234,5", "1\u202f234,5", "1'234,5"])
def test_declared_blank_or_apostrophe_marks_part_thousands(text):
    marks = frozenset({" ", "\u202f", "'"})
    assert Numerals(decimal_mark=",", thousands_marks=marks).read(text).value == 1234.5


def test_a_declared_word_is_the_bound_it_was_declared_to_be():
    numerals = Numerals(bounds={"ol": (Bound.AT_LEAST, 4.5)})
    assert numerals.read("OL")[:2] == (4.5, Bound.AT_LEAST)
