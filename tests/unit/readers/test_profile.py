import pytest
from meter_files import GOOD

from gatekeeper.readers.profile import load_profile
from gatekeeper.yamlfiles.places import BrokenFilesError


def problems(text):
    with pytest.raises(BrokenFilesError) as broken:
        load_profile(text.encode(), "readers/bench-meter.yaml")
    return broken.value.problems


def test_a_profile_is_loaded_with_its_keys_typed():
    profile = load_profile(GOOD.encode(), "readers/bench-meter.yaml")
    assert profile.profile == "bench-meter"
    assert profile.columns == {"patch": "Feld", "density": "D", "job": "Auftrag"}
    assert profile.patches.words["solid"] == ("Vollton", "V")
    assert profile.over_range.at_least == 4.5
    assert profile.column_names is True


TEXT = """profile: dump
format: text
recognise: {first_line: "^DUMP"}
lines:
  - '^(?P<patch>\\w+) (?P<density>\\S+)'
"""


def test_a_profile_for_text_maps_by_the_names_of_groups():
    assert load_profile(TEXT.encode(), "x").format == "text"


@pytest.mark.parametrize(
    ("change", "name", "line"),
    [
        (("density: D", "densty: D"), "unknown-name", 11),
        (("separator: semicolon", "separator: pipe"), "not-a-choice", 5),
        (("code_page: windows-1252", "code_page: windows-0"), "unknown-code-page", 6),
        (("code_page: windows-1252", "code_page: hex"), "unknown-code-page", 6),
        (("decimal_mark: comma", "decimal_mark: comma\nthousands_mark: comma"), "marks-alike", 8),
        (("%d.%m.%Y %H:%M", "%d.%m. %H:%M"), "bad-date-format", 8),
        (("%d.%m.%Y %H:%M", "%H:%M"), "bad-date-format", 8),
        (("%d.%m.%Y %H:%M", "%Q"), "bad-date-format", 8),
        (("meter: T-04", "metre: T-04"), "unknown-name", 13),
        (("zeroed on: clear", "zeroed on: water"), "bad-constant", 13),
        (("meter: T-04", "job: T-04"), "mapped-twice", 13),
        (("^R(?P<nominal>[0-9]+)$", "^R(?P<nominal>([0-9]+)+)$"), "bad-pattern", 16),
        (("(?P<nominal>", "(?P<percent>"), "unknown-name", 16),
        (("tint: [Raster]", "tint: [Raster, v]"), "word-twice", 15),
        (("solid: [Vollton, V]", "full: [Vollton, V]"), "not-a-choice", 15),
        (("words: [UL]", "words: [ol]"), "word-twice", 18),
        (("at_least: 4.5", "at_least: 4,5"), None, 17),
        (("at_least: 4.5", "at_least: nan"), "not-a-number", 17),
        (("  columns: [Feld, D]", "  columns: []"), None, 4),
        (("recognise:\n  columns: [Feld, D]", "recognise: {}"), "never-used", 3),
        (("  density: D\n", ""), "no-reading", 9),
        (("density: D", "reading: D"), "no-quantity", 9),
        (("  patch: Feld\n", ""), "no-patches", 13),
        (("separator: semicolon", "quantity: dot"), "unused-key", 5),
        (("separator: semicolon", "lines: [a]"), "unused-key", 5),
        (("separator: semicolon", "column_names: no"), "no-names", 4),
        (("separator: semicolon", "units: {density: lpi}"), "unknown-unit", 5),
        (("separator: semicolon", "units: {job: lpi}"), "unknown-unit", 5),
        (("patches:\n", "patches:\n  order: [clear, tint]\n"), "bad-order", 15),
        (("profile: bench-meter", "profil: bench-meter"), "unknown-key", 1),
    ],
)
def test_every_mistake_is_named_with_its_line_and_advice(change, name, line):
    assert change[0] in GOOD
    found = problems(GOOD.replace(*change, 1))
    assert (name, line) in [
        (problem.name if name else None, problem.place.line) for problem in found
    ]
    assert all(problem.do for problem in found)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        (("lines:\n  - '^(?P<patch>\\w+) (?P<density>\\S+)'\n", ""), "no-lines"),
        (("<patch>", "<patsh>"), "unknown-name"),
        (("<density>", "<where>"), "no-reading"),
        (("format: text", "format: text\ncolumns: {density: D}"), "unused-key"),
        (("<patch>", "<meter>"), "no-patches"),
    ],
)
def test_mistakes_in_a_profile_for_text_are_named_too(change, name):
    assert change[0] in TEXT
    assert name in [problem.name for problem in problems(TEXT.replace(*change, 1))]


def test_positions_must_be_numbers_where_there_are_no_column_names():
    text = """profile: flat
recognise: {first_line: x}
column_names: no
columns: {patch: 1, density: D}
"""
    assert {problem.name for problem in problems(text)} == {"not-a-position", "no-separator"}


def test_a_reading_and_the_same_quantity_by_name_are_one_too_many():
    text = GOOD.replace("  density: D", "  density: D\n  reading: E\nquantity: opacity")
    text = text.replace("  job: Auftrag\n", "")
    assert "mapped-twice" in [problem.name for problem in problems(text)]
