"""Fingerprints and texts of effective rules."""

import pytest
from shelves import LIQUID, QUILLMARK, library

from gatekeeper.rules.effective import Limit
from gatekeeper.verdict import Requirement
from gatekeeper.yamlfiles.places import Place

AT = Place("workflows/x.yaml", 3, 1)


def rules_of(text=LIQUID, customer=""):
    return library({"workflows/liquid-plate.yaml": text}).effective("liquid-plate", customer)


@pytest.mark.parametrize(
    "edited",
    [
        "# a comment\n" + LIQUID,
        LIQUID.replace("2.70", "2.7"),
        LIQUID.replace("2.70", "27e-1"),
        LIQUID.replace("title: Liquid photopolymer", "title: Another name"),
        LIQUID.replace("required: [job, meter]", "required: [Meter, JOB]"),
        LIQUID.replace("{nominal: 50, tolerance: 2.0}", "{tolerance: 2, nominal: 50.0}"),
    ],
)
def test_what_changes_no_rule_changes_no_fingerprint(edited):
    assert rules_of(edited).fingerprint == rules_of().fingerprint


@pytest.mark.parametrize(
    "edited",
    [
        LIQUID.replace("2.70", "2.7000001"),
        LIQUID.replace("required: [job, meter]", "required: [job]"),
        LIQUID.replace("tolerance: 2.0", "tolerance: 2.5"),
        LIQUID.replace("nominal: 50", "nominal: 40"),
        LIQUID.replace("matte-8mil", "matte-9mil"),
        LIQUID.replace("[720, 1440]", "[720]"),
        LIQUID.replace("reading: negative", "reading: positive"),
        LIQUID + "dot_from: meter\n",
    ],
)
def test_what_changes_a_rule_changes_the_fingerprint(edited):
    assert rules_of(edited).fingerprint != rules_of().fingerprint


def test_customer_is_part_of_the_fingerprint():
    assert rules_of(customer="Quillmark Cartons").fingerprint != rules_of().fingerprint


def test_fingerprint_is_a_sha_256_and_the_same_each_time():
    assert rules_of().fingerprint == rules_of().fingerprint
    assert len(bytes.fromhex(rules_of().fingerprint)) == 32


def test_text_says_each_limit_with_its_origin():
    lines = rules_of(customer="Quillmark Cartons").text.splitlines()
    assert lines[:4] == [
        "workflow: liquid-plate",
        "customer: Quillmark Cartons",
        "reading: negative",
        "dot_from: either",
    ]
    assert "solid_density.min: 2.85 density  # customers/quillmark.yaml:7 (customer)" in lines
    assert (
        "film.stocks: matte-5mil, matte-8mil  # workflows/liquid-plate.yaml:9 (workflow)" in lines
    )
    assert "customer: -" in rules_of().text


def test_every_limit_must_be_answered_for_every_separation():
    wanted = rules_of().requirements(["black", "red"])
    assert Requirement("solid_density.min", "black") in wanted
    assert Requirement("tints.50.tolerance", "red") in wanted
    asked = [limit for limit in rules_of().limits if not limit.is_setting]
    assert len(wanted) == 2 * len(asked)


def test_limits_are_found_by_path_and_by_section():
    rules = rules_of()
    assert rules.limit("solid_density", "min").value == 2.7
    assert rules.limit("solid_density", "max") is None
    assert [limit.path[1] for limit in rules.under("clear_density")] == ["max", "spots"]


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (2.695, "density", "2.695 density"),
        (50.0, "percent", "50 percent"),
        (2.6950001, "density", "2.6950001 density"),
        ((720.0, 1440.0), "dpi", "720, 1440 dpi"),
        (("visual", "UV"), "", "visual, UV"),
        ("given", "", "given"),
    ],
)
def test_limit_is_shown_with_all_its_digits(value, unit, shown):
    assert str(Limit(("a", "b"), value, unit, AT, "workflow")) == shown


def test_limit_of_another_kind_is_no_number_and_no_list():
    words = Limit(("film", "stocks"), ("a", "b"), "", AT, "workflow")
    number = Limit(("solid_density", "min"), 2.7, "density", AT, "workflow")
    assert words.words == ("a", "b")
    assert Limit(("x", "y"), (720.0,), "dpi", AT, "workflow").numbers == (720.0,)
    assert number.number == 2.7
    with pytest.raises(TypeError, match=r"film\.stocks"):
        _ = words.number
    with pytest.raises(TypeError, match=r"solid_density\.min"):
        _ = number.words
    with pytest.raises(TypeError, match=r"solid_density\.min"):
        _ = number.numbers


def test_customer_file_for_all_workflows_is_named_by_its_line():
    rules = library({"customers/quillmark.yaml": "\n" + QUILLMARK}).effective(
        "stencil", "Quillmark Cartons"
    )
    assert rules.limit("tints", "50", "tolerance").origin == "customers/quillmark.yaml:5"
