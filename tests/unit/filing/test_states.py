from __future__ import annotations

from itertools import product

from gatekeeper.filing.states import (
    CONCLUDES_ABSENCE,
    TABLE,
    Bench,
    Filed,
    Note,
    Seen,
    Sheet,
    Step,
    Tidy,
    row_of,
)

ALL = [
    Seen(sheet, begun, bench, filed, note)
    for sheet, begun, bench, filed, note in product(Sheet, (False, True), Bench, Filed, Note)
]


def test_no_combination_fits_two_rows():
    for seen in ALL:
        assert len([row for row in TABLE if row.fits(seen)]) <= 1, seen


def test_every_row_fits_some_combination():
    assert {row.number for row in TABLE} == {row.number for seen in ALL if (row := row_of(seen))}


def test_decided_job_never_goes_back_to_reading():
    for seen in ALL:
        row = row_of(seen)
        if row and seen.bench is Bench.DECIDED and seen.note is Note.READABLE:
            assert row.go_on >= Step.FILE


def test_sheet_in_work_is_never_thrown_away():
    for seen in ALL:
        row = row_of(seen)
        if row and row.tidy is Tidy.DISCARD:
            assert seen.sheet in {Sheet.DROP, Sheet.GONE}


def test_rows_that_rest_on_absence_are_those_of_a_sheet_that_is_gone_and_not_decided():
    for row in TABLE:
        is_of_absence = row.sheet == (Sheet.GONE,) and row.note is Note.READABLE
        assert (row.number in CONCLUDES_ABSENCE) == is_of_absence


def test_unexplained_combination_has_no_row():
    assert row_of(Seen(Sheet.BOTH, begun=True, bench=Bench.OPEN)) is None
    assert row_of(Seen(Sheet.IN, filed=Filed.LANDING)) is None
