"""Nodes into models: every answer of pydantic in our own words, at the right place."""

from typing import Annotated

import pytest
from pydantic import Field

from gatekeeper.yamlfiles.annotations import keys_at, unit_at
from gatekeeper.yamlfiles.fields import (
    Block,
    CountField,
    NumberField,
    NumbersField,
    WordField,
    WordsField,
    YesNoField,
    one_of,
)
from gatekeeper.yamlfiles.load import load
from gatekeeper.yamlfiles.validate import validate


class Inner(Block):
    width: NumberField | None = Field(default=None, json_schema_extra={"unit": "mm"}, gt=1, lt=9)
    sizes: NumbersField = Field(default=(), json_schema_extra={"unit": "pt"})


class Outer(Block):
    name: WordField
    kind: Annotated[str, one_of("wide", "narrow")] = "wide"
    is_wet: YesNoField = False
    count: CountField = Field(default=1, ge=1, le=3)
    words: WordsField = ()
    inner: Inner | None = None
    many: list[Inner] = Field(default_factory=list)
    by_name: dict[Annotated[str, one_of("left", "right")], Inner] = Field(default_factory=dict)
    short: Annotated[str, Field(max_length=2)] = ""


def told(text):
    read, problems = validate(Outer, load(text.encode(), "x.yaml"))
    assert (read is None) == bool(problems)
    return [
        f"{entry.place.line}:{entry.place.column} {entry.name}: {entry.what}" for entry in problems
    ]


def advice(text):
    _, problems = validate(Outer, load(text.encode(), "x.yaml"))
    return [problem.do for problem in problems]


def test_sound_file_becomes_its_model():
    text = (
        "name: a\nis_wet: on\nwords: one\ninner: {width: 2, sizes: [6, 7.5]}\nmany: [{width: 3}]\n"
    )
    read, problems = validate(Outer, load(text.encode(), "x.yaml"))
    assert problems == []
    assert read == Outer(
        name="a", is_wet="on", words="one", inner={"width": "2", "sizes": ["6", "7.5"]},
        many=[{"width": "3"}],
    )  # fmt: skip
    assert (read.inner.sizes, read.words, read.is_wet) == ((6.0, 7.5), ("one",), True)


CASES = {
    "nme: a": [
        '1:1 missing-key: the key "name" is missing',
        '1:1 unknown-key: the key "nme" is not known here',
    ],
    "name: a\ninner: {wdth: 2}": ['2:9 unknown-key: the key "wdth" is not known here'],
    "name: a\nmany:\n  - {wdth: 2}": ['3:6 unknown-key: the key "wdth" is not known here'],
    "name: a\nby_name: {left: {wdth: 2}}": ['2:18 unknown-key: the key "wdth" is not known here'],
    "name: a\nby_name: {up: {width: 2}}": ['2:11 not-a-choice: "up" is not one of the choices'],
    "name: a\nkind: tall": ['2:7 not-a-choice: "tall" is not one of the choices'],
    "name: a\ninner: 3": [
        '2:8 not-a-block: a block of keys is wanted behind "inner", found a single value'
    ],
    "name: a\ninner: [3]": [
        '2:8 not-a-block: a block of keys is wanted behind "inner", found a list'
    ],
    "name: a\nmany: {width: 3}": [
        '2:1 not-a-list: a list is wanted behind "many", found a block of keys'
    ],
    "name: a\nmany: [3]": [
        '2:8 not-a-block: a block of keys is wanted as an entry of "many", found a single value'
    ],
    "name: a\nby_name: [left]": [
        '2:10 not-a-block: a block of keys is wanted behind "by_name", found a list'
    ],
    "name: a\ninner: {width: 1}": ['2:16 out-of-range: "width" must be above 1'],
    "name: a\ninner: {width: 9}": ['2:16 out-of-range: "width" must be below 9'],
    "name: a\ncount: 0": ['2:8 out-of-range: "count" must be at least 1'],
    "name: a\ncount: 4": ['2:8 out-of-range: "count" must be at most 3'],
    "name: a\ninner: {sizes: [6, six]}": ['2:20 not-a-number: "six" is not a number'],
    "name: a\ninner: {sizes: six}": ['2:16 not-a-number: "six" is not a number'],
    "name: a\nwords: [b, [c]]": ["2:12 not-one-value: a single value is wanted here"],
    "name: {b: c}": ["1:1 not-one-value: a single value is wanted here"],
    "name: a\nshort: abc": ['2:8 wrong-value: "short" cannot be used: string_too_long'],
}


@pytest.mark.parametrize("text", CASES)
def test_answer_has_its_place_and_its_words(text):
    assert told(text) == CASES[text]


@pytest.mark.parametrize("nothing", ["", " ~", " null"])
def test_value_that_is_not_there_is_never_taken_for_one_that_was_not_asked_for(nothing):
    assert told(f"name: a\ninner:\n  width:{nothing}\n") == [
        '3:3 no-value: the key "width" has no value'
    ]


def test_missing_value_is_told_once_even_where_the_field_needs_it():
    assert told("name:\n") == ['1:1 no-value: the key "name" has no value']


def test_comma_in_a_number_between_braces_is_seen_for_what_it_is():
    assert told("name: a\ninner: {width: 2,70}\n") == [
        '2:18 decimal-comma: a comma parts entries here, so "70" stands by itself'
    ]


def test_missing_values_are_found_inside_lists():
    assert told("name: a\nmany:\n  - {width: }\n") == ['3:6 no-value: the key "width" has no value']


def test_all_problems_are_told_at_once():
    assert len(told("nme: a\nkind: tall\ncount: many\ninner: {width: wide}\nmany:\n")) == 6


def test_unknown_key_names_the_nearest_or_all():
    assert advice("name: a\ninner: {widht: 2}\n") == ["write width"]
    assert advice("name: a\ninner: {colour: 2}\n") == ["use one of: sizes, width"]


def test_number_hears_its_unit():
    assert advice("name: a\ninner: {width: 2 cm}\n") == [
        "write the number alone, without a unit; it is in mm"
    ]
    assert advice("name: a\ninner: {sizes: [6, 7 mm]}\n") == [
        "write the number alone, without a unit; it is in pt"
    ]


def test_keys_and_units_are_found_by_walking_the_model():
    assert keys_at(Outer, ("many", 0)) == {"width", "sizes"}
    assert keys_at(Outer, ("by_name", "left")) == {"width", "sizes"}
    assert keys_at(Outer, ("name", "further")) == set()
    assert unit_at(Outer, ("many", 3, "width")) == "mm"
    assert unit_at(Outer, ("count",)) == ""
