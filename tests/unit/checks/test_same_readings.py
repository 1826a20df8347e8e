"""Readings that are those of another job's film, to the last digit."""

from __future__ import annotations

import pytest
from bench import SOUND, findings, holding, judged, only, typed

from gatekeeper.case import SameReadings
from gatekeeper.likeness import digits_of
from gatekeeper.readers.choose import read_sheet
from gatekeeper.readers.interface import Declarations, RawFile
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.verdict import Decision, Outcome

RULE = "plausibility.same_readings_days"
NOTE = "plausibility.same_readings"
TELLING = [*SOUND, "tint,25,,25.6"]  # three solids and two tints: five that tell


def digits(sheet):
    film = read_sheet(RawFile("7.csv", sheet.encode()), Declarations()).negatives[0]
    return digits_of(film).sha256


def beside(sheet, days, *others, rules=""):
    """Return the verdict where job 6 had the same readings, so many days apart."""
    same = SameReadings(digits(sheet), "6", days)
    return judged(sheet, *others, rules=rules, same_readings=(same,))


@pytest.mark.parametrize(
    ("days", "words"),
    [(0.0, "less than a day"), (0.9, "less than a day"), (1.2, "1 day"), (13.99, "13 days")],
)
def test_readings_of_another_job_within_two_weeks_are_held_with_the_likely_cause(days, words):
    verdict = beside(typed(rows=TELLING), days)
    assert holding(verdict) == [RULE]
    finding = only(verdict, RULE)
    assert 'job "6"' in finding.says
    assert f"{words} apart" in finding.says
    assert "copied" in finding.says
    assert "exported twice" in finding.says
    assert (finding.measured, finding.limit, finding.unit) == (days, 14, "days")
    assert finding.off == pytest.approx(14 - days)
    assert "which of the two films" in finding.do[0].says
    assert finding.origin.startswith("defaults.yaml:")


@pytest.mark.parametrize("days", [14.0, 400.0])
def test_readings_of_another_job_longer_ago_pass_and_the_report_says_whose(days):
    verdict = beside(typed(rows=TELLING), days)
    assert verdict.decision is Decision.APPROVED
    assert 'job "6"' in only(verdict, RULE).says


def test_readings_that_no_other_job_had_pass():
    finding = only(judged(typed(rows=TELLING)), RULE)
    assert (finding.outcome, finding.measured) == (Outcome.PASS, "no other film")


def test_few_readings_may_agree_by_chance_and_are_noted():
    verdict = beside(typed(), 0.5)  # three solids and a tint
    assert verdict.decision is Decision.APPROVED
    note = only(verdict, NOTE)
    assert note.outcome is Outcome.NOTE
    assert 'job "6"' in note.says
    assert "chance" in note.says
    assert note.do
    assert findings(beside(typed(rows=TELLING), 0.5), NOTE) == []


def test_rules_say_how_long_and_how_many():
    four = "plausibility: {same_readings_count: 4}"
    assert holding(beside(typed(), 0.5, rules=four)) == [RULE]
    six = "plausibility: {same_readings_count: 6}"
    assert holding(beside(typed(rows=TELLING), 0.5, rules=six)) == []
    month = "plausibility: {same_readings_days: 30}"
    assert holding(beside(typed(rows=TELLING), 20, rules=month)) == [RULE]
    never = "plausibility: {same_readings_days: 0}"
    assert holding(beside(typed(rows=TELLING), 0, rules=never)) == []


@pytest.mark.parametrize("number", ["0", "3"])
def test_fewer_than_four_readings_are_refused_as_a_rule(number):
    text = f"workflow: plate\nreading: negative\nplausibility: {{same_readings_count: {number}}}\n"
    always, where_used = built_in_defaults()
    found = Library({"workflows/plate.yaml": text.encode()}, always=always, where_used=where_used)
    assert "three solids" in "\n".join(map(str, found.all_problems))


def test_only_the_separation_that_was_copied_is_held():
    black = typed(rows=TELLING, separation="black")
    red = typed(rows=[*SOUND, "tint,25,,25.7"], separation="red")
    verdict = beside(black, 1.0, red)
    held = [found.separation for found in findings(verdict, RULE) if found.outcome is Outcome.HOLD]
    assert (holding(verdict), held) == ([RULE], ["black"])


def test_separations_of_one_job_that_read_alike_are_held_both_until_one_is_measured():
    names = ("black", "red", "blue")
    rows = {"black": TELLING, "red": TELLING, "blue": [*SOUND, "tint,25,,25.7"]}
    sheets = [typed(rows=rows[name], separation=name) for name in names]
    verdict = judged(*sheets)
    held = [found for found in findings(verdict, RULE) if found.outcome is Outcome.HOLD]
    assert (holding(verdict), [found.separation for found in held]) == ([RULE], ["black", "red"])
    assert 'separation "red"' in held[0].says
    assert "exported twice" in held[0].says
    rows["red"] = [*SOUND, "tint,25,,25.5"]
    assert holding(judged(*sheets, typed(rows=rows["red"], separation="red"))) == []


def test_separations_that_are_alike_in_few_readings_are_noted_and_rules_may_let_all_pass():
    few = [typed(separation=name) for name in ("black", "red")]
    assert holding(judged(*few)) == []
    assert 'separation "red"' in findings(judged(*few), "plausibility.copied")[0].says
    many = [typed(rows=TELLING, separation=name) for name in ("black", "red")]
    assert holding(judged(*many, rules="plausibility: {same_readings_days: 0}")) == []
