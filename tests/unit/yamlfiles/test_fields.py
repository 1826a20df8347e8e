"""Text as written into values: a limit that is not a number must never pass for one."""

import math
from contextlib import suppress
from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from gatekeeper.yamlfiles import fields


def refusal(read, value):
    with pytest.raises(PydanticCustomError) as refused:
        read(value)
    return refused.value.context


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("2.70", 2.7),
        ("1e-3", 0.001),
        ("1E2", 100.0),
        ("010", 10.0),
        ("+.5", 0.5),
        ("-3.", -3.0),
        (" 7 ", 7.0),
    ],
)
def test_number_is_read(text, number):
    assert fields.number_of(text) == number


@pytest.mark.parametrize(
    "text",
    [
        "",
        "nan",
        "inf",
        "-inf",
        "1_000",
        "1e400",
        "0x1F",
        "1,5",
        "on",
        "12:30",
        "½",
        "٣",
        "1 2",
        "e5",
    ],
)
def test_what_is_no_number_is_refused(text):
    assert refusal(fields.number_of, text)["name"] == "not-a-number"


def test_number_of_four_hundred_digits_is_not_infinite_but_refused():
    assert refusal(fields.number_of, "9" * 400)["name"] == "not-a-number"


def test_minus_zero_is_zero():
    assert math.copysign(1.0, fields.number_of("-0.0")) == 1.0


@pytest.mark.parametrize(
    ("text", "do"),
    [
        ("2,70", "write the decimal mark as a point: 2.70"),
        ("1_000", "write the digits without gaps: 1000"),
        ("10 000", "write the digits without gaps: 10000"),
        ("12'500", "write the digits without gaps: 12500"),
        ("365 days", "write the number alone, without a unit"),
        ("2.7D", "write the number alone, without a unit"),
        ("50 %", "write the number alone, without a unit"),
        ("1e400", "write a plain number"),
        ("two", "write a plain number"),
        ("14:30", "write a plain number"),
    ],
)
def test_refused_number_says_what_to_write(text, do):
    assert refusal(fields.number_of, text)["do"] == do


@given(st.text(max_size=12))
@example("1e999")
@example("\u0661")
def test_no_text_becomes_a_number_that_is_none(text):
    with suppress(PydanticCustomError):
        assert math.isfinite(fields.number_of(text))


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=1e-90, max_value=1e90))
def test_number_written_by_a_program_reads_back_equal(number):
    assert fields.number_of(repr(number)) == number


@pytest.mark.parametrize("value", [["1"], {"a": "1"}])
def test_list_or_block_is_no_single_value(value):
    assert refusal(fields.number_of, value)["name"] == "not-one-value"


def test_nothing_is_no_value():
    assert refusal(fields.word_of, None)["name"] == "no-value"
    assert refusal(fields.word_of, "  ")["name"] == "no-value"


@pytest.mark.parametrize("hidden", ["\u202e", "\u200b", "\ue000", "\u2028", "\ufeff"])
def test_character_that_cannot_be_seen_is_refused(hidden):
    assert refusal(fields.word_of, f"Quill{hidden}mark")["name"] == "odd-character"


def test_note_of_several_lines_is_a_word():
    assert fields.word_of("by the window\n\tleft\n") == "by the window\n\tleft"


@pytest.mark.parametrize(("text", "number"), [("3", 3), ("007", 7), ("0", 0)])
def test_whole_number_is_read(text, number):
    assert fields.whole_number_of(text) == number


@pytest.mark.parametrize("text", ["3.0", "-1", "1e2", "", "٣", "1234567890"])
def test_what_is_no_whole_number_is_refused(text):
    assert refusal(fields.whole_number_of, text)["name"] == "not-a-whole-number"


def test_date_is_a_calendar_day():
    assert fields.date_of("2026-11-20") == date(2026, 11, 20)


@pytest.mark.parametrize("text", ["20.11.2026", "2026-2-1", "2026-02-30", "20261120", "2026-W47-5"])
def test_what_is_no_calendar_day_is_refused(text):
    assert refusal(fields.date_of, text)["name"] == "not-a-date"


@pytest.mark.parametrize(
    ("text", "is_so"), [("yes", True), ("ON", True), ("No", False), ("off", 0)]
)
def test_yes_and_no_are_read_in_the_spellings_of_yaml(text, is_so):
    assert fields.yes_no_of(text) is bool(is_so)


@pytest.mark.parametrize("text", ["y", "1", "maybe", ""])
def test_neither_yes_nor_no_is_refused(text):
    assert refusal(fields.yes_no_of, text)["name"] == "not-yes-or-no"


def test_list_of_one_needs_no_brackets():
    assert fields.list_of("visual") == ["visual"]
    assert fields.list_of(["visual", "UV"]) == ["visual", "UV"]


@pytest.mark.parametrize(
    ("value", "name"), [([], "no-value"), (None, "not-a-list"), ({}, "not-a-list")]
)
def test_what_is_no_list_is_refused(value, name):
    assert refusal(fields.list_of, value)["name"] == name


def test_choice_is_taken_without_its_case_and_comes_out_as_the_model_has_it():
    choose = fields.one_of("visual", "UV").choose
    assert choose("uv ") == "UV"
    assert refusal(choose, "blue") == {
        "name": "not-a-choice",
        "what": '"blue" is not one of the choices',
        "do": "write visual or UV",
    }


def test_refusal_with_braces_is_not_taken_for_a_pattern():
    assert str(fields.refuse("n", "what {is} this", "do")) == "what {is} this"
