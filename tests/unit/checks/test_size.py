"""Distances between marks: expected, read, and alike on every separation."""

from __future__ import annotations

import math

import pytest
from bench import holding, judged, library, only, typed

from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.verdict import Decision, Outcome

COLUMNS = "patch,nominal,length,where"
PLATE = {"plate_thickness": "1.70 mm", "plate_base": "0.18 mm", "repeat": "609.6 mm"}
# K = 2 pi (1.70 - 0.18) = 9.550 mm, so 600 mm around are 600 (1 - 9.550 / 609.6) = 590.600 mm.
WRAPPED = 600 * (1 - math.tau * 1.52 / 609.6)
RULE = "size.tolerance_mm"
TOLERANCE = "size: {tolerance_mm: 0.20}"


def marks(*rows, **changes):
    return typed(rows=[f"length,{row}" for row in rows], columns=COLUMNS, **changes)


def found(sheet, rules=TOLERANCE, rule=RULE):
    return only(judged(sheet, rules=rules), rule)


# -- as it stands --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("read", "outcome"),
    [
        ("600.20", Outcome.PASS),
        ("599.80", Outcome.PASS),
        ("600.21", Outcome.HOLD),
        ("599.79", Outcome.HOLD),
        (">600", Outcome.NOT_JUDGED),
        (">601", Outcome.HOLD),
    ],
)
@pytest.mark.parametrize("way", ["around", "across", "Around the cylinder", ""])
def test_distance_passes_at_its_tolerance_and_not_beyond(read, outcome, way):
    assert found(marks(f"600,{read},{way}")).outcome is outcome


def test_finding_says_what_was_read_expected_and_how_far_it_is_off():
    finding = found(marks("600,599.5,across"))
    assert (finding.measured, finding.limit) == (pytest.approx(0.5), pytest.approx(0.2))
    assert finding.off == pytest.approx(0.3)
    assert finding.where == "across"
    assert "the 600 mm across read 599.50 mm, 0.50 mm shorter than the 600.00 mm" in finding.says
    assert "longer" in found(marks("600,600.5,across")).says


@pytest.mark.parametrize(("read", "outcome"), [("600.5", Outcome.PASS), ("600.51", Outcome.HOLD)])
def test_tolerance_grows_with_the_distance(read, outcome):
    """0.2 mm and half a thousandth of 600 mm are 0.5 mm."""
    rules = "size: {tolerance_mm: 0.20, tolerance_per_mille: 0.5}"
    finding = found(marks(f"600,{read},across"), rules)
    assert (finding.outcome, finding.limit) == (outcome, pytest.approx(0.5))


def test_worst_of_several_distances_decides():
    finding = found(marks("600,600.1,across", "300,299.6,across", "100,100.3,across"))
    assert finding.measured == pytest.approx(0.4)


def test_sheet_without_a_distance_is_not_judged():
    assert found(typed()).outcome is Outcome.NOT_JUDGED


# -- what is expected ----------------------------------------------------------------------------


@pytest.mark.parametrize(("way", "read"), [("around", f"{WRAPPED:.3f}"), ("across", "600.00")])
def test_film_is_shorter_around_the_cylinder_and_not_across(way, read):
    assert found(marks(f"600,{read},{way}", **PLATE)).outcome is Outcome.PASS


def test_film_made_without_the_wrap_is_held_and_the_wrap_is_named():
    finding = found(marks("600,600.00,around", **PLATE))
    assert finding.outcome is Outcome.HOLD
    assert "plate wrap, K 9.550 mm on a repeat of 609.6 mm" in finding.says


@pytest.mark.parametrize("left_out", PLATE)
def test_plate_that_is_known_in_part_gives_no_size(left_out):
    finding = found(marks("600,590.6,around", **{**PLATE, left_out: None}))
    assert finding.outcome is Outcome.NOT_JUDGED
    assert left_out.replace("_", " ") in finding.says
    across = marks("600,600,across", **{**PLATE, left_out: None})
    assert found(across).outcome is Outcome.PASS


def test_bent_plate_needs_to_know_which_way_the_distance_lies():
    for where in ("", "left", "around or across"):
        finding = found(marks(f"600,590.6,{where}", **PLATE))
        assert finding.outcome is Outcome.NOT_JUDGED
        assert "around or across the cylinder" in finding.says


def test_plate_of_the_rules_serves_sheets_that_do_not_give_one():
    rules = "size: {tolerance_mm: 0.2, plate_thickness_mm: 1.70, plate_base_mm: 0.18}"
    sheet = marks(f"600,{WRAPPED:.3f},around", repeat="609.6 mm")
    assert found(sheet, rules).outcome is Outcome.PASS


def test_sheet_and_rules_must_speak_of_one_plate():
    rules = "size: {tolerance_mm: 0.2, plate_thickness_mm: 2.84}"
    finding = found(marks(f"600,{WRAPPED:.3f},around", **PLATE), rules)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert "the sheet says plate thickness 1.7 mm, the rules 2.84 mm" in finding.says
    same = rules.replace("2.84", "1.7")
    assert found(marks(f"600,{WRAPPED:.3f},around", **PLATE), same).outcome is Outcome.PASS


@pytest.mark.parametrize("changes", [{"plate_base": "1.80 mm"}, {"repeat": "5 mm"}])
def test_plate_that_cannot_be_is_not_judged(changes):
    finding = found(marks("600,590.6,around", **{**PLATE, **changes}))
    assert finding.outcome is Outcome.NOT_JUDGED


@pytest.mark.parametrize("way", ["around", "across"])
def test_entered_shrink_counts_both_ways(way):
    assert found(marks(f"600,598.80,{way}", shrink="0.2 %")).outcome is Outcome.PASS
    finding = found(marks(f"600,600.00,{way}", shrink="0.2 %"))
    assert finding.outcome is Outcome.HOLD
    assert "shrink 0.2 %" in finding.says


def test_shrink_comes_on_top_of_the_wrap():
    read = WRAPPED * 0.998
    sheet = marks(f"600,{read:.3f},around", shrink="0.2 %", **PLATE)
    assert found(sheet, "size: {tolerance_mm: 0.001}").outcome is Outcome.PASS


CLIMATE = (
    "size: {tolerance_mm: 0.02, reference_temperature_c: 21, reference_humidity_percent: 50, "
    "growth_ppm_per_c: 17, growth_ppm_per_percent_rh: 8}"
)


def test_film_is_expected_to_have_grown_with_the_climate_of_the_room():
    """600 mm, 4 degrees and 10 % up: 600 (17e-6 x 4 + 8e-6 x 10) = 0.0888 mm."""
    sheet = marks("600,600.0888,across", temperature="25", humidity="60")
    finding = found(sheet, CLIMATE)
    assert finding.outcome is Outcome.PASS
    assert "the room's climate +0.089 mm" in finding.says
    assert found(marks("600,600.0888,across"), CLIMATE).outcome is Outcome.HOLD


def test_half_a_climate_is_corrected_by_half():
    assert found(marks("600,600.0408,across", temperature="25"), CLIMATE).outcome is Outcome.PASS
    assert found(marks("600,600.048,across", humidity="60"), CLIMATE).outcome is Outcome.PASS


# -- how many ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rows", "holds"),
    [
        (["600,600,around", "400,400,across"], []),
        (["600,600,around"], ["size.min_across"]),
        (["600,600,"], ["size.min_around", "size.min_across"]),
        ([], ["size.min_around", "size.min_across"]),
    ],
)
def test_distances_both_ways_are_asked_for(rows, holds):
    rules = "size: {min_around: 1, min_across: 1}"
    sheet = marks(*rows) if rows else typed()
    assert holding(judged(sheet, rules=rules)) == holds


# -- register ------------------------------------------------------------------------------------

REGISTER = "size: {register_mm: 0.05}"


def separations(*reads):
    return [
        marks(f"600,{read},around", separation=f"s{number}") for number, read in enumerate(reads)
    ]


@pytest.mark.parametrize(
    ("reads", "decision"),
    [
        (("600.00", "600.05"), "approved"),
        (("600.00", "600.06"), "held"),
        (("600.00", "600.03", "599.97"), "held"),
        (("600.00", "600.03", "599.98"), "approved"),
    ],
)
def test_separations_of_a_job_have_one_size(reads, decision):
    assert judged(*separations(*reads), rules=REGISTER).decision == decision


def test_separation_that_differs_most_is_named():
    verdict = judged(*separations("600.00", "600.01", "600.20"), rules=REGISTER)
    first = next(finding for finding in verdict.findings if finding.rule == "size.register_mm")
    assert first.says == (
        "this separation does not register with s2: the 600 mm around differs by 0.20 mm"
    )
    assert first.measured == pytest.approx(0.20)


def test_one_negative_has_none_to_register_with():
    finding = found(marks("600,600,around"), REGISTER, "size.register_mm")
    assert (finding.outcome, finding.measured) == (Outcome.PASS, "one negative")


@pytest.mark.parametrize("other", ["500,500,around", "600,600,across", "600,>600,around"])
def test_separations_without_the_same_distances_are_not_judged(other):
    sheets = [marks("600,600,around", separation="a"), marks(other, separation="b")]
    verdict = judged(*sheets, rules=REGISTER)
    outcomes = {f.outcome for f in verdict.findings if f.rule == "size.register_mm"}
    assert outcomes == {Outcome.NOT_JUDGED}


def test_separations_without_any_distance_are_not_judged():
    verdict = judged(typed(separation="a"), typed(separation="b"), rules=REGISTER)
    outcomes = {f.outcome for f in verdict.findings if f.rule == "size.register_mm"}
    assert outcomes == {Outcome.NOT_JUDGED}


def test_repeated_distance_is_averaged():
    twice = marks("600,600.10,around", "600,599.90,around", separation="a")
    once = marks("600,600.00,around", separation="b")
    assert judged(twice, once, rules=REGISTER).decision is Decision.APPROVED


# -- doubt ---------------------------------------------------------------------------------------


def test_distance_is_known_as_well_as_the_rules_say():
    rules = "size: {tolerance_mm: 0.2, register_mm: 0.2, uncertainty_mm: 0.1}"
    finding = found(marks("600,600.20,around"), rules)
    assert finding.uncertainty == 0.1
    assert finding.probability == pytest.approx(0.5)
    sheets = separations("600.00", "600.20")
    finding = next(f for f in judged(*sheets, rules=rules).findings if f.rule == "size.register_mm")
    assert finding.uncertainty == pytest.approx(0.1 * 2**0.5)


def test_guarded_distance_keeps_its_doubt_inside_the_tolerance():
    rules = (
        "decision: {rule: guarded}\nsize: {tolerance_mm: 0.2, register_mm: 9, uncertainty_mm: 0.1}"
    )
    assert found(marks("600,600.10,around"), rules).outcome is Outcome.PASS
    finding = found(marks("600,600.11,around"), rules)
    assert (finding.outcome, finding.limit) == (Outcome.HOLD, pytest.approx(0.1))


def test_guarded_distance_without_a_doubt_is_not_judged():
    rules = f"decision: {{rule: guarded}}\n{TOLERANCE}"
    assert found(marks("600,600.00,around"), rules).outcome is Outcome.NOT_JUDGED


# -- the keys ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("block", "name", "words"),
    [
        ("tolerance_per_mille: 0.5", "no-setting", "without tolerance_mm"),
        ("growth_ppm_per_c: 17", "no-setting", "without reference_temperature_c"),
        ("growth_ppm_per_percent_rh: 8", "no-setting", "without reference_humidity_percent"),
        ("tolerance_mm: 0", "out-of-range", "above zero"),
        (
            "tolerance_mm: 1, reference_temperature_c: 21, growth_ppm_per_c: 1700",
            "out-of-range",
            "is the figure a percentage?",
        ),
    ],
)
def test_size_rules_that_cannot_be_meant_are_refused(block, name, words):
    always, where_used = built_in_defaults()
    text = f"workflow: plate\nreading: negative\nsize: {{{block}}}\n"
    refused = Library({"workflows/plate.yaml": text.encode()}, always=always, where_used=where_used)
    (problem,) = refused.all_problems
    assert problem.name == name
    assert words in f"{problem.what} {problem.do}"


def test_register_alone_is_a_rule():
    assert [limit.rule for limit in library(REGISTER).effective("plate", "").under("size")] == [
        "size.register_mm"
    ]
