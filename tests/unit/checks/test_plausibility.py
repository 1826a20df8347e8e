"""Readings that cannot be, and answers from the bench."""

from __future__ import annotations

import pytest
from bench import SOUND, findings, holding, judged, library, only, typed

from gatekeeper.verdict import Decision, Outcome

COLUMNS = "patch,nominal,length,where"


def densities(*rows, **changes):
    return typed(rows=rows, **changes)


def lengths(*rows, **changes):
    return typed(rows=[f"length,{row}" for row in rows], columns=COLUMNS, **changes)


# -- below zero ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "holds"),
    [
        ("clear,,-0.05", []),
        ("clear,,-0.051", ["plausibility.max_below_zero"]),
        ("solid,,-0.20", ["plausibility.max_below_zero"]),
        ("tint,50,-0.10", ["plausibility.max_below_zero"]),
    ],
)
def test_density_clearly_below_zero_is_held_whatever_the_rules_ask(row, holds):
    assert holding(judged(densities("clear,,0.00", "solid,,2.9", row))) == holds


def test_likely_cause_of_a_density_below_zero_is_said():
    finding = only(judged(densities("clear,,-0.31")), "plausibility.max_below_zero")
    assert (finding.measured, finding.off) == (pytest.approx(0.31), pytest.approx(0.26))
    assert "zeroed on the wrong patch" in finding.says
    assert finding.origin.startswith("defaults.yaml:")


@pytest.mark.parametrize(
    ("rows", "holds"),
    [
        # The clear film is stained on one side: nothing lies below the clearest of it.
        (["clear,,0.04", "clear,,0.30", "tint,50,0.05"], []),
        (["clear,,0.04", "clear,,0.06", "tint,50,-0.02"], ["plausibility.max_below_zero"]),
        # No film is clearer than air, and none that is helps a weak solid to pass.
        (["clear,,-0.06", "solid,,2.65"], ["plausibility.max_below_zero"]),
        (["clear,,0.10", "clear,,-0.30", "solid,,2.65"], ["plausibility.max_below_zero"]),
    ],
)
def test_over_air_the_clearest_film_is_the_zero(rows, holds):
    sheet = densities(*rows, zeroed_on="air")
    assert holding(judged(sheet, rules="solid_density: {min: 2.70}"))[: len(holds)] == holds


# -- a zero that is none -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("clear", "holds"),
    [
        (["0.15"], []),
        (["0.16"], ["plausibility.max_zero_error"]),
        (["0.00", "0.40"], []),
        (["0.30", "0.16"], ["plausibility.max_zero_error"]),
    ],
)
def test_meter_that_was_zeroed_on_clear_film_reads_it_as_zero(clear, holds):
    """Over air the solid would be too thin by what the clear film reads."""
    sheet = densities(*(f"clear,,{value}" for value in clear), "solid,,2.80")
    verdict = judged(sheet, rules="solid_density: {min: 2.70}")
    assert holding(verdict) == holds


def test_clear_film_over_air_may_read_what_it_reads():
    assert holding(judged(densities("clear,,0.30", "solid,,3.2", zeroed_on="air"))) == []


# -- above film ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "holds"),
    [
        ("solid,,6.0", []),
        ("solid,,6.01", ["plausibility.max_density"]),
        ("solid,,>6.5", ["plausibility.max_density"]),
        ("tint,50,9.0", ["plausibility.max_density"]),
    ],
)
def test_density_that_no_film_has_is_held(row, holds):
    assert holding(judged(densities("clear,,0.00", row))) == holds


def test_what_film_can_have_is_the_workflows_to_say():
    rules = "plausibility: {max_density: 4.5}"
    finding = only(
        judged(densities("clear,,0", "solid,,4.6"), rules=rules), "plausibility.max_density"
    )
    assert (finding.outcome, finding.limit) == (Outcome.HOLD, 4.5)
    assert "decimal mark" in finding.says


# -- units ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("600,23.62,around", "inches"),
        ("23.62,600,around", "inches"),
        ("600,23.25,around", "inches"),  # shorter by the plate's wrap as well
        ("600,60,across", "centimetres"),
        ("600,0.6,across", "metres"),
        ("600,6,across", "decimal mark"),
        ("600,300,across", "one of the two is wrong"),
    ],
)
def test_distance_that_is_off_by_a_factor_is_held_with_the_likely_cause(row, words):
    finding = only(judged(lengths(row)), "plausibility.max_length_factor")
    assert finding.outcome is Outcome.HOLD
    assert words in finding.says
    assert finding.measured > 1.5


@pytest.mark.parametrize("row", ["600,590.6,around", "600,400,across", "600,900,across"])
def test_distance_within_the_factor_is_the_sizes_own_matter(row):
    assert holding(judged(lengths(row))) == []


def test_worst_distance_decides():
    finding = only(
        judged(lengths("600,600,around", "10,254,across")), "plausibility.max_length_factor"
    )
    assert (finding.measured, finding.where) == (pytest.approx(25.4), "across")


# -- alike to the last digit ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("solids", "holds"),
    [
        (["2.90", "2.90", "2.91"], []),
        (["2.90", "2.90", "2.90"], ["plausibility.max_identical_spots"]),
        (["2.90", "2.91", "2.90", "2.90"], ["plausibility.max_identical_spots"]),
        ([], []),
    ],
)
def test_spots_that_are_all_alike_are_held_where_a_rule_asks(solids, holds):
    sheet = densities("clear,,0.00", *(f"solid,,{value}" for value in solids))
    assert holding(judged(sheet, rules="plausibility: {max_identical_spots: 2}")) == holds


def test_spots_that_are_all_alike_are_noted_where_none_does():
    alike = densities("clear,,0.00", *["solid,,2.90"] * 3)
    assert only(judged(alike), "plausibility.alike").outcome is Outcome.NOTE
    for solids in (["2.90"] * 2, ["2.90", "2.90", "2.91"]):
        sheet = densities("clear,,0.00", *(f"solid,,{value}" for value in solids))
        assert findings(judged(sheet), "plausibility.alike") == []
    asked = judged(alike, rules="plausibility: {max_identical_spots: 9}")
    assert findings(asked, "plausibility.alike") == []


def test_two_negatives_of_one_job_that_read_alike_are_noted():
    verdict = judged(typed(separation="black"), typed(separation="red"))
    assert verdict.decision is Decision.APPROVED
    notes = findings(verdict, "plausibility.copied")
    assert [(note.separation, note.outcome) for note in notes] == [
        ("black", Outcome.NOTE),
        ("red", Outcome.NOTE),
    ]
    other = typed(separation="red", rows=[*SOUND[:-1], "tint,50,,50.9"])
    assert findings(judged(typed(separation="black"), other), "plausibility.copied") == []
    few = [typed(separation=name, rows=SOUND[:3]) for name in ("black", "red")]
    assert findings(judged(*few), "plausibility.copied") == []


def test_sheet_without_such_readings_has_nothing_to_answer_for():
    verdict = judged(typed(rows=["tint,50,,50.0"]))
    built_in = [limit.rule for limit in library("").effective("plate", "").under("plausibility")]
    answers = {only(verdict, rule).measured for rule in built_in}
    assert answers == {"no reading", "no other film"}
    assert verdict.decision is Decision.APPROVED


# -- bench inspection ----------------------------------------------------------------------------

INSPECTION = """
inspection:
  cleaned: [yes]
  scratches: [none, light]
  pinholes: [none]
  emulsion: [down]
  reads: [right]
  min_type_pt: 6
"""
GOOD = {
    "cleaned": "yes",
    "scratches": "none",
    "pinholes": "none",
    "emulsion": "down",
    "reads": "right",
    "smallest_type": "6 pt",
}


def test_film_that_passes_the_bench_is_approved():
    assert holding(judged(typed(**GOOD), rules=INSPECTION)) == []


@pytest.mark.parametrize("name", GOOD)
def test_question_that_is_not_answered_is_not_judged(name):
    verdict = judged(typed(**{**GOOD, name: None}), rules=INSPECTION)
    key = "min_type_pt" if name == "smallest_type" else name
    finding = only(verdict, f"inspection.{key}")
    assert finding.outcome is Outcome.NOT_JUDGED
    assert finding.do
    assert name.replace("_", " ") in finding.says


@pytest.mark.parametrize(
    ("name", "said", "outcome"),
    [
        ("cleaned", "YES", Outcome.PASS),
        ("cleaned", "y", Outcome.PASS),
        ("cleaned", "ok", Outcome.PASS),
        ("cleaned", "no", Outcome.HOLD),
        ("cleaned", "none", Outcome.HOLD),
        ("scratches", "Light", Outcome.PASS),
        ("scratches", "0", Outcome.PASS),
        ("scratches", "no", Outcome.PASS),
        ("scratches", "deep", Outcome.HOLD),
        ("scratches", "yes", Outcome.HOLD),
        ("pinholes", "0", Outcome.PASS),
        ("pinholes", "nil", Outcome.PASS),
        ("pinholes", "2", Outcome.HOLD),
        ("emulsion", "Down", Outcome.PASS),
        ("emulsion", "up", Outcome.HOLD),
        ("reads", "right reading", Outcome.PASS),
        ("reads", "right-reading", Outcome.PASS),
        ("reads", "wrong reading", Outcome.HOLD),
        ("smallest_type", "6", Outcome.PASS),
        ("smallest_type", "5.9 pt", Outcome.HOLD),
        ("smallest_type", "2.2 mm", Outcome.PASS),
        ("smallest_type", "2.1 mm", Outcome.HOLD),
    ],
)
def test_answer_is_compared_with_those_that_may_stand(name, said, outcome):
    verdict = judged(typed(**{**GOOD, name: said}), rules=INSPECTION)
    key = "min_type_pt" if name == "smallest_type" else name
    finding = only(verdict, f"inspection.{key}")
    assert finding.outcome is outcome
    assert (outcome is Outcome.PASS) == (not finding.do)


def test_every_answer_is_recorded_whether_a_rule_asks_or_not():
    said = {line.subject: line.says for line in judged(typed(**GOOD)).status}
    assert said["inspection"] == (
        "cleaned yes, scratches none, pinholes none, emulsion down, reads right, smallest type 6 pt"
    )
    assert "inspection" not in {line.subject for line in judged(typed()).status}
