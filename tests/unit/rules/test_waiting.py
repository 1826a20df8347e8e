"""Who waits for a broken file, in words."""

from shelves import FLOORS, LIQUID, QUILLMARK, STENCIL, library

from gatekeeper.rules.waiting import waiting


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
