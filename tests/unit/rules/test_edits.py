"""What an edit changes for jobs that were judged before, and what a comparison can tell."""

import pytest
from shelves import LIQUID, QUILLMARK, library

from gatekeeper.checks.compare import SLACK as SLACK_OF_CHECKS
from gatekeeper.rules.difference import read_record
from gatekeeper.rules.edits import GUARDED, SLACK, Edit, edit_of, is_compared_path, keeps, path_of


def edit(text, *, before=LIQUID, customer="", theirs=QUILLMARK):
    """Return the edit between two texts of the workflow's file."""
    old = library({"workflows/liquid-plate.yaml": before}).effective("liquid-plate", customer)
    files = {"workflows/liquid-plate.yaml": text, "customers/quillmark.yaml": theirs}
    return edit_of(read_record(old.text), library(files).effective("liquid-plate", customer))


def told(found):
    limits = {rule: limit.value for rule, limit in found.limits.items()}
    return limits, set(found.removed), set(found.others)


def test_same_rules_are_no_edit():
    assert edit("# a comment\n" + LIQUID) == Edit()
    assert edit(LIQUID).is_nothing


@pytest.mark.parametrize(
    ("old", "new", "rule", "value"),
    [
        ("min: 2.70", "min: 2.85", "solid_density.min", 2.85),
        ("spread: 0.20", "spread: 0.1", "solid_density.spread", 0.1),
        ("max: 0.10", "max: 0.05", "clear_density.max", 0.05),
        ("tolerance: 2.0", "tolerance: 1.5", "tints.50.tolerance", 1.5),
        ("max: 115", "max: 100", "screen.ruling_lpi.max", 100),
    ],
)
def test_number_that_changed_is_compared(old, new, rule, value):
    assert told(edit(LIQUID.replace(old, new))) == ({rule: value}, set(), set())


@pytest.mark.parametrize(
    ("old", "new", "others"),
    [
        ("[job, meter]", "[job, meter, operator]", {"required.operator"}),
        ("matte-8mil]", "matte-9mil]", {"film.stocks"}),
        ("[720, 1440]", "[720]", {"screen.resolution_dpi"}),
        ("reading: negative", "reading: positive", {"reading"}),
        ("tints:\n", "tints:\n  - {nominal: 95, tolerance: 2}\n", {"tints.95.tolerance"}),
        ("spread: 0.20", "spread: 0.20, max: 4", {"solid_density.max"}),
    ],
)
def test_what_a_number_cannot_tell_needs_the_checks(old, new, others):
    assert told(edit(LIQUID.replace(old, new))) == ({}, set(), others)


def test_way_of_the_dots_needs_the_checks():
    assert told(edit(LIQUID + "dot_from: meter\n"))[2] == {"dot_from"}


def test_rule_that_went_away_takes_its_answer_with_it():
    found = edit(LIQUID.replace(", spread: 0.20", ""))
    assert told(found) == ({}, {"solid_density.spread"}, set())


def test_last_rule_of_a_section_and_a_setting_that_went_away_need_the_checks():
    found = edit(LIQUID.replace("tints:\n  - {nominal: 50, tolerance: 2.0}\n", ""))
    assert told(found) == ({}, {"tints.50.tolerance"}, {"tints.50.tolerance"})
    sized = LIQUID + "size: {tolerance_mm: 0.5, shrink_percent: 1.6}\n"
    found = edit(sized.replace(", shrink_percent: 1.6", ""), before=sized)
    assert found.sections == {"size"}


@pytest.mark.parametrize(
    ("text", "sections"),
    [
        ("dot: {spread_factor: 1.4}\n", {"tints", "dot", "tone_scale"}),
        ("dot_from: meter\n", {"tints", "dot", "tone_scale"}),
        ("inspection: {cleaned: ['yes']}\n", {"inspection"}),
    ],
)
def test_checks_of_the_sections_that_look_at_a_rule_judge_afresh(text, sections):
    assert edit(LIQUID + text).sections == sections


def test_doubt_that_decides_is_judged_by_every_check_of_readings():
    assert edit(LIQUID + "decision: {rule: guarded}\n").sections == GUARDED


@pytest.mark.parametrize("where", ["before", "after", "both"])
def test_doubt_that_takes_part_needs_the_checks(where):
    guarded = "decision: {rule: guarded}\n"
    before = LIQUID + (guarded if where != "after" else "")
    after = LIQUID.replace("2.70", "2.85") + (guarded if where != "before" else "")
    found = edit(after, before=before)
    assert not found.limits
    assert "solid_density.min" in found.others


def test_edit_of_a_customer_is_one_for_its_jobs_alone():
    theirs = QUILLMARK.replace("2.85", "2.95")
    assert edit(LIQUID, theirs=theirs).is_nothing
    found = edit(LIQUID, theirs=theirs, customer="Quillmark Cartons")
    assert told(found)[0] == {"solid_density.min": 2.95}


def test_record_that_is_lost_needs_the_checks():
    found = edit_of(read_record(""), library().effective("stencil", ""))
    assert {"reading", "solid_density.min"} <= found.others


def test_slack_is_that_of_the_checks():
    assert SLACK == SLACK_OF_CHECKS


@pytest.mark.parametrize(
    ("rule", "measured", "limit", "is_kept"),
    [
        ("solid_density.min", 2.7, 2.7, True),
        ("solid_density.min", 2.6999999999999997, 2.7, True),
        ("solid_density.min", 2.695, 2.7, False),
        ("clear_density.max", 0.1, 0.1, True),
        ("clear_density.max", 0.11, 0.1, False),
        ("tints.50.tolerance", 52.0, 2.0, True),
        ("tints.50.tolerance", 52.1, 2.0, False),
        ("tints.50.tolerance", 47.9, 2.0, False),
        ("tints.2.5.tolerance", 3.0, 0.5, True),
    ],
)
def test_reading_is_compared_as_the_check_compares_it(rule, measured, limit, is_kept):
    assert keeps(path_of(rule), measured, limit) is is_kept


def test_rule_is_taken_apart_into_its_path():
    assert path_of("tints.2.5.tolerance") == ("tints", "2.5", "tolerance")
    assert path_of("screen.ruling_lpi.min") == ("screen", "ruling_lpi", "min")
    assert is_compared_path(("tints", "50", "tolerance"))
    assert not is_compared_path(("size", "tolerance_mm"))
