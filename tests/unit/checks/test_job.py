"""The job as a whole: what may stand for a negative, and what a newer sheet cannot undo."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bench import SOUND, findings, holding, job_sheet, judged, only, typed

from gatekeeper.case import Before
from gatekeeper.sheet import Sheet, SheetKind
from gatekeeper.verdict import Decision, Outcome

SOLID = "solid_density: {min: 2.70}"
WEAK = ("clear,,0.00", "solid,,2.30", "solid,,2.91", "tint,50,,50.8")
QUILLMARK = "customer: Quillmark Cartons\nall_workflows: {solid_density: {min: 2.85}}"
PENNYROYAL = "customer: Pennyroyal Preserves"
PICTURE = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


def weak(**changes):
    return typed(rows=WEAK, **changes)


# -- names --------------------------------------------------------------------------------------


def test_unknown_workflow_and_customer_are_held_and_name_the_nearest():
    found = only(judged(typed(), workflow="plaet"), "job.names")
    assert (found.outcome, found.measured) == (Outcome.HOLD, "plaet")
    assert '"plate"' in found.says
    sheet = typed(customer="Quilmark Cartons")
    found = only(judged(sheet, customers=[QUILLMARK]), "job.names")
    assert found.outcome is Outcome.HOLD
    assert '"Quillmark Cartons"' in found.says


def test_job_without_any_workflow_is_held():
    found = only(judged(typed(), workflow=""), "job.names")
    assert found.outcome is Outcome.HOLD
    assert "neither the drop folder nor the sheet" in found.says


def test_sheet_names_the_workflow_where_the_folder_does_not():
    assert judged(typed(workflow="plate"), workflow="").workflow == "plate"


def test_verdict_without_rules_keeps_what_the_sheet_says():
    verdict = judged(typed(customer="Nobody"), customers=[QUILLMARK])
    assert (verdict.customer, verdict.rules_text, verdict.rules_fingerprint) == ("Nobody", "", "")


# -- sheets, folder and each other ---------------------------------------------------------------


@pytest.mark.parametrize("workflow", ["plate", "PLATE", " Plate "])
def test_sheet_and_folder_name_the_same_workflow_without_case(workflow):
    assert holding(judged(typed(workflow=workflow))) == []


@pytest.mark.parametrize("line", [{"workflow": "stencil"}, {"job": "8"}])
def test_sheet_that_belongs_elsewhere_is_held(line):
    assert holding(judged(typed(**line))) == ["job.agrees"]


def test_sheet_without_a_customer_says_whose_limits_it_escapes():
    customers = [QUILLMARK, PENNYROYAL]
    verdict = judged(typed(), customers=customers)
    assert only(verdict, "job.names").says == "the workflow is known; no customer is named"
    (note,) = verdict.notes
    assert note.startswith("no customer is named, so what Quillmark Cartons may ask on top")
    assert judged(typed(customer="Pennyroyal Preserves"), customers=customers).notes == ()
    assert judged(typed(), customers=[PENNYROYAL]).notes == ()
    assert judged(typed(), customers=customers, rules="required: [customer]").notes == ()


def test_sheets_of_one_job_name_one_customer():
    first = typed(separation="black", customer="Quillmark Cartons")
    second = typed(separation="red", customer="Pennyroyal Preserves")
    verdict = judged(first, second, customers=[QUILLMARK, PENNYROYAL])
    assert holding(verdict) == ["job.agrees"]
    assert "Quillmark Cartons, Pennyroyal Preserves" in only(verdict, "job.agrees").says


# -- what can be read ----------------------------------------------------------------------------


def test_sheet_that_cannot_be_read_holds_and_says_why():
    found = only(judged(PICTURE), "sheet.readable")
    assert found.outcome is Outcome.HOLD
    assert found.says.startswith("1.csv cannot be read: ")
    assert found.do


@pytest.mark.parametrize("read", [None, Sheet(SheetKind.NEGATIVE, ())])
def test_sheet_without_a_reason_for_being_unreadable_still_holds(read):
    assert holding(judged(replace(job_sheet(typed()), sheet=read))) == ["sheet.readable"]


def test_job_of_which_nothing_counts_is_held():
    gone = replace(job_sheet(typed()), sheet=None, replaced=True)
    assert holding(judged(gone)) == ["sheet.readable"]


def test_line_that_cannot_be_used_holds_though_all_others_can():
    rows = [*SOUND, "solid,,2.9l,"]
    verdict = judged(typed(rows=rows), rules=SOLID)
    found = only(verdict, "sheet.readable")
    assert found.outcome is Outcome.HOLD
    assert found.trace.startswith("line ")
    assert verdict.decision is Decision.HELD


def test_unreadable_sheet_stands_until_its_own_name_is_read():
    bad = job_sheet(PICTURE, "red.csv")
    black = job_sheet(typed(separation="black"), "black.csv")
    red = job_sheet(typed(separation="red"), "red.csv")
    assert holding(judged(bad, black)) == []  # black is all that the job is known to have
    assert holding(judged(black, bad)) == ["sheet.readable"]
    assert holding(judged(black, bad, red)) == []


def test_unreadable_sheet_is_not_replaced_by_one_of_the_separations_before_it():
    black = job_sheet(typed(separation="black"), "black.csv")
    red = job_sheet(typed(separation="red"), "red.csv")
    bad = job_sheet(PICTURE, "new.csv")
    again = job_sheet(typed(separation="black", operator="MK"), "black-2.csv")
    assert holding(judged(black, red, bad, again)) == ["sheet.readable"]
    both = (again, job_sheet(typed(separation="red", operator="MK"), "red-2.csv"))
    assert holding(judged(black, red, bad, *both)) == []


def test_unreadable_sheets_without_a_dropped_name_are_told_apart_by_their_own():
    bad = job_sheet(PICTURE, "a.csv", dropped_as="")
    good = job_sheet(typed(), "b.csv", dropped_as="")
    assert holding(judged(good, bad)) == ["sheet.readable"]
    assert holding(judged(good, bad, job_sheet(typed(), "a.csv", dropped_as=""))) == []


def test_sheet_of_another_kind_says_nothing_of_a_negative():
    verdict = judged(typed(sheet="wedge"), rules=SOLID)
    assert holding(verdict) == ["sheet.kind"]
    assert "wedge" in only(verdict, "sheet.kind").says


@pytest.mark.parametrize("kind", ["wedge", "meter check", "meter study"])
def test_sheet_of_another_kind_never_stands_for_a_bad_negative(kind):
    """The film is weak; the wedge is not, has the same separation, and is not even the newest."""
    bad = job_sheet(weak(separation="black"), "black.csv")
    wedge = job_sheet(typed(separation="black", sheet=kind), "black-wedge.csv")
    other = job_sheet(typed(separation="red"), "red.csv")
    held = judged(bad, wedge, other, rules=SOLID)
    assert holding(held) == ["sheet.kind", "solid_density.min"]
    assert [sheet.current for sheet in held.sheets] == [True, True, True]
    again = job_sheet(typed(separation="black", operator="MK"), "black-2.csv")
    assert holding(judged(bad, wedge, other, again, rules=SOLID)) == []
    right = job_sheet(typed(separation="black"), "black-wedge.csv")
    assert holding(judged(bad, wedge, other, right, rules=SOLID)) == []


def test_readings_of_another_kind_are_not_measured_at_all():
    assert judged(typed(sheet="wedge")).status == ()


# -- which sheet counts --------------------------------------------------------------------------


def test_newer_sheet_replaces_the_older_one_of_its_separation_without_case():
    old = job_sheet(weak(separation="Black"), "a.csv")
    new = job_sheet(typed(separation=" black "), "b.csv")
    verdict = judged(old, new, rules=SOLID)
    assert verdict.decision is Decision.APPROVED
    assert [sheet.current for sheet in verdict.sheets] == [False, True]


def test_older_good_sheet_does_not_excuse_a_newer_bad_one():
    assert judged(typed(), weak(), rules=SOLID).decision is Decision.HELD


def test_bad_separation_holds_whatever_comes_after_it():
    bad = job_sheet(weak(separation="black"), "a.csv")
    good = job_sheet(typed(separation="red"), "b.csv")
    unnamed = job_sheet(typed(), "c.csv")
    for sheets in ((bad, good), (bad, unnamed), (bad, good, unnamed), (good, bad)):
        assert "solid_density.min" in holding(judged(*sheets, rules=SOLID))


def test_unnamed_negative_is_replaced_by_a_named_one_and_that_is_noted():
    verdict = judged(weak(), typed(separation="black"), rules=SOLID)
    assert verdict.decision is Decision.APPROVED
    assert only(verdict, "job.separation").outcome is Outcome.NOTE


def test_negatives_of_one_sheet_do_not_replace_each_other():
    columns = "patch,nominal,density,dot,separation"
    rows = [f"{row}{',' * (3 - row.count(','))},{name}" for name in ("a", "b") for row in SOUND]
    verdict = judged(typed(rows=rows, columns=columns), rules=SOLID)
    found = findings(verdict, "solid_density.min")
    assert [finding.separation for finding in found] == ["a", "b"]
    assert verdict.decision is Decision.APPROVED


def test_replaced_sheet_of_an_earlier_verdict_is_only_named():
    gone = replace(
        job_sheet(weak()), sheet=None, replaced=True, separations=("black",), read_as="typed"
    )
    verdict = judged(gone, typed(), rules=SOLID)
    assert verdict.decision is Decision.APPROVED
    assert verdict.sheets[0].current is False
    assert (verdict.sheets[0].separations, verdict.sheets[0].read_as) == (("black",), "typed")


def test_sheet_with_fewer_patches_than_the_one_before_is_noted():
    rows = ("clear,,0.00", "solid,,2.91", "tint,50,,50.8")
    verdict = judged(weak(), typed(rows=rows), rules=SOLID)
    assert only(verdict, "job.fewer").outcome is Outcome.NOTE
    assert "1 instead of 2 solid" in only(verdict, "job.fewer").says
    assert findings(judged(weak(), typed(), rules=SOLID), "job.fewer") == []


# -- what a corrected sheet cannot leave out -----------------------------------------------------


def test_corrected_sheet_without_its_customer_does_not_escape_the_customers_limits():
    rows = ("clear,,0.00", "solid,,2.75")
    first = typed(rows=rows, customer="Quillmark Cartons")
    second = typed(rows=rows, operator="MK")
    held = judged(first, second, rules=SOLID, customers=[QUILLMARK])
    assert held.customer == "Quillmark Cartons"
    assert holding(held) == ["solid_density.min"]
    assert only(held, "job.customer").outcome is Outcome.NOTE
    alone = judged(second, rules=SOLID, customers=[QUILLMARK])
    assert alone.decision is Decision.APPROVED
    before = Before(customer="Quillmark Cartons")
    later = judged(second, rules=SOLID, customers=[QUILLMARK], before=before)
    assert holding(later) == ["solid_density.min"]


def test_corrected_customer_is_taken_and_noted():
    first = typed(customer="Pennyroyal Preserves")
    second = typed(customer="Quillmark Cartons")
    verdict = judged(first, second, rules=SOLID, customers=[QUILLMARK, PENNYROYAL])
    assert verdict.customer == "Quillmark Cartons"
    assert "was" in only(verdict, "job.customer").says


def test_number_of_separations_is_asked_for():
    black, red = typed(separation="black", separations="2"), typed(separation="red")
    assert only(judged(black), "job.complete").says.startswith("waiting for 1 more separation of 2")
    assert holding(judged(black, red)) == []
    third = typed(separation="blue")
    assert "3 were measured" in only(judged(black, red, third), "job.complete").says


def test_sheets_that_disagree_on_the_number_of_separations_are_held():
    first, second = typed(separation="a", separations="2"), typed(separation="b", separations="3")
    assert "different numbers" in only(judged(first, second), "job.complete").says


def test_corrected_sheet_without_the_number_does_not_make_the_job_complete():
    first = typed(separation="black", separations="2")
    second = typed(separation="black", operator="MK")
    assert holding(judged(first, second)) == ["job.complete"]
    found = only(judged(second, before=Before(separations=2)), "job.complete")
    assert (found.outcome, found.measured, found.limit) == (Outcome.HOLD, 1, 2)
    corrected = typed(separation="black", separations="1")
    assert holding(judged(first, corrected)) == []


def test_file_that_another_job_was_judged_by_is_held():
    verdict = judged(typed(), used_for="6")
    assert holding(verdict) == ["sheet.own"]
    assert '"6"' in only(verdict, "sheet.own").says
    assert verdict.sheets[0].used_for == "6"


def test_copied_file_goes_on_holding_when_another_sheet_brings_the_job_back():
    copied = job_sheet(typed(separation="black"), "black.csv", used_for="6")
    red = job_sheet(typed(separation="red"), "red.csv")
    held = judged(copied, red)
    assert holding(held) == ["sheet.own"]
    assert '"6"' in only(held, "sheet.own").says
    assert [sheet.used_for for sheet in held.sheets] == ["6", ""]
    own = job_sheet(typed(separation="black", operator="MK"), "black-2.csv")
    assert holding(judged(copied, red, own)) == []


def test_same_bytes_again_are_a_note():
    assert only(judged(typed(), typed()), "sheet.again").outcome is Outcome.NOTE
