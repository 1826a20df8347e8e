"""Every section and every key of the rules is explained, in one place that is also printed."""

import re

import pytest

from gatekeeper.checks.registry import CHECKS
from gatekeeper.errors import UsageError
from gatekeeper.explain import page_of, sections
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.show.rule_pages import list_lines, page_data, page_lines
from gatekeeper.yamlfiles.places import leaves

SECTIONS = sections()
CHECKED = [check.NAME for check in CHECKS]


def test_every_check_is_of_a_section_and_no_two_of_one():
    assert set(CHECKED) <= set(SECTIONS)
    assert len(set(CHECKED)) == len(CHECKED)


@pytest.mark.parametrize("check", CHECKED)
def test_page_of_a_check_says_why_and_shows_what_passes_and_what_is_held(check):
    page = page_of(check)
    assert page.summary.endswith(".")
    for head in ("Why ", "Keys ", "Source ", "Pass ", "Held "):
        assert re.search(rf"^{head}", page.text, re.MULTILINE), head


@pytest.mark.parametrize("section", SECTIONS)
def test_every_key_has_a_meaning_a_default_and_no_unit_twice(section):
    for key in page_of(section).keys:
        assert len(key.meaning) >= 10, key
        assert key.default, key
        assert not key.unit or not key.meaning.endswith(f"({key.unit})"), key


@pytest.mark.parametrize("check", CHECKED)
def test_every_key_is_told_of_on_the_page_of_its_check(check):
    text = page_of(check).text
    paragraph = re.search(r"^Keys (.*?)^(?:Source|Pass|\S)", text, re.MULTILINE | re.DOTALL)[1]
    for key in page_of(check).keys:
        for word in key.path.split(".") if key.path else ["required"]:
            assert re.search(rf"\b{word}\b", paragraph), f"{check}.{key.path}"


def test_every_built_in_default_is_shown():
    for table, behind in zip(built_in_defaults(), ("", " where the section is used"), strict=True):
        for path, node in leaves(table):
            keys = {key.path: key for key in page_of(path[0]).keys}
            assert keys[".".join(path[1:])].default == f"{node.text}{behind}"


@pytest.mark.parametrize(
    ("name", "path", "unit", "default"),
    [
        ("solid_density", "min", "density", "needed where the section is used"),
        ("solid_density", "spots", "patches", "1 where the section is used"),
        ("solid_density", "spread", "density", "nothing is asked"),
        ("screen", "ruling_lpi.min", "lpi", "nothing is asked"),
        ("tints", "tolerance", "percent", "needed in each entry"),
        ("film", "stocks", "", "nothing is asked"),
        ("freshness", "clock_tolerance_minutes", "minutes", "10"),
        ("required", "", "", "nothing is asked"),
    ],
)
def test_key_is_shown_with_its_unit_and_default(name, path, unit, default):
    (key,) = [key for key in page_of(name).keys if key.path == path]
    assert (key.unit, key.default) == (unit, default)


def test_rule_as_a_report_names_it_leads_to_its_page():
    assert page_of("tints.50.tolerance") == page_of("tints")


def test_unknown_rule_is_refused_with_the_nearest():
    with pytest.raises(UsageError) as refused:
        page_of("sold_density.min")
    assert refused.value.do == 'the nearest known one is "solid_density"'


def test_part_of_a_name_leads_to_the_rules_that_contain_it():
    with pytest.raises(UsageError) as refused:
        page_of("solid")
    assert refused.value.do.startswith("known: solid_density, ")


@pytest.mark.parametrize(
    ("name", "place", "default"),
    [
        ("effective_from", "customer file (workflows.changes.effective_from)", "nothing"),
        ("changes", "workflow file (changes)", "nothing"),
        ("settle_s", "site file (settle_s)", "2.0"),
        ("keep_days", "site file (upkeep.keep_days)", "14"),
        ("meters.tablet", "register file (meters.tablet)", "nothing"),
        ("calibrated", "register file (meters.calibrated)", "needed"),
    ],
)
def test_key_that_is_no_rule_is_told_with_its_file_and_where_to_read_more(name, place, default):
    page = page_of(name)
    (key,) = page.keys
    assert place in key.meaning
    assert key.default == default
    assert "README.md" in page.text


def test_page_is_printed_whole():
    page = page_of("clear_density")
    text = "\n".join(page_lines(page))
    assert text.startswith(page.summary)
    assert page.text in text
    assert "\nclear_density.base_max (density)\n    highest density of the clear film" in text
    assert max(map(len, text.splitlines())) <= 100
    assert "\nrequired\n    fields of the sheet" in "\n".join(page_lines(page_of("required")))


def test_section_without_a_check_is_printed_from_its_keys():
    unchecked = sorted(set(SECTIONS) - set(CHECKED))
    for section in unchecked:
        lines = list(page_lines(page_of(section)))
        assert lines[0]
        assert f"{section}." in "\n".join(lines)


def test_all_sections_are_listed_with_what_they_ask():
    lines = list(list_lines([page_of(section) for section in SECTIONS]))
    assert [line.split()[0] for line in lines[:-2]] == list(SECTIONS)


def test_programs_are_told_the_same():
    told = page_data(page_of("screen"))
    assert told["section"] == "screen"
    assert {"key", "unit", "meaning", "default"} == set(told["keys"][0])
