"""Who waits for a broken file, in words."""

from datetime import date

from shelves import FLOORS, LIQUID, QUILLMARK, STENCIL, library

from gatekeeper.rules.waiting import waiting, waiting_later


def test_nobody_waits_while_all_is_good():
    assert waiting(library(floors=FLOORS)) == ()


def test_jobs_of_broken_files_wait():
    files = {
        "workflows/stencil.yaml": STENCIL.replace("3.00", "x"),
        "customers/quillmark.yaml": QUILLMARK.replace("2.85", "x"),
    }
    assert waiting(library(files)) == (
        "every job of the customer in customers/quillmark.yaml",
        "every job of the workflow in workflows/stencil.yaml",
    )


def test_jobs_whose_rules_do_not_go_together_wait():
    theirs = QUILLMARK.replace("min: 2.85", "min: 2.40")
    assert waiting(library({"customers/quillmark.yaml": theirs}, floors=FLOORS)) == (
        "jobs for liquid-plate that name Quillmark Cartons",
    )
    loose = LIQUID.replace("2.70", "2.40")
    assert waiting(library({"workflows/liquid-plate.yaml": loose}, floors=FLOORS)) == (
        "every job for liquid-plate",
    )


LATER = "    changes: [{effective_from: 2027-01-15, solid_density: {min: 2.10}}]\n"


def test_jobs_that_will_wait_from_a_day_are_told_and_wait_no_earlier():
    files = {"customers/quillmark.yaml": QUILLMARK + LATER}
    before = library(files, floors=FLOORS, today=date(2027, 1, 14))
    assert waiting(before) == ()
    jobs = "jobs for liquid-plate that name Quillmark Cartons"
    assert waiting_later(before) == (f"from 2027-01-15 on {jobs}",)
    on_the_day = library(files, floors=FLOORS, today=date(2027, 1, 15))
    assert waiting(on_the_day) == (jobs,)
    assert waiting_later(on_the_day) == ()


def test_workflow_that_will_pass_a_floor_stops_all_its_jobs_from_that_day():
    text = f"{LIQUID}changes: [{{effective_from: 2027-01-15, solid_density: {{min: 2.1}}}}]\n"
    shelf = library({"workflows/liquid-plate.yaml": text}, floors=FLOORS, today=date(2027, 1, 1))
    assert waiting_later(shelf) == ("from 2027-01-15 on every job for liquid-plate",)


def test_what_waits_already_is_not_told_to_wait_later():
    text = LIQUID.replace("2.70", "2.40")
    text += "changes: [{effective_from: 2027-01-15, solid_density: {min: 2.1}}]\n"
    shelf = library({"workflows/liquid-plate.yaml": text}, floors=FLOORS, today=date(2027, 1, 1))
    assert waiting(shelf) == ("every job for liquid-plate",)
    assert waiting_later(shelf) == ()
