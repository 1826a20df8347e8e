"""Which sheets of a job count, whatever order they come in."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.case import JobSheet, standing
from gatekeeper.sheet import Negative, Problem, Sheet, SheetKind, Text
from gatekeeper.wording import fold

NAMES = ("", "black", "Black ", "red")


def sheet_of(number, name, kind, separation):
    read = None
    if kind is not None:
        negative = Negative(separation=Text(separation) if separation else None)
        read = Sheet(kind, (negative,))
    trouble = None if read else Problem("broken", "export it again")
    return JobSheet(f"{number}-{name}", "", "", read, trouble, dropped_as=name)


entries = st.tuples(
    st.sampled_from(["a.csv", "b.csv", "c.csv"]),
    st.sampled_from([SheetKind.NEGATIVE, SheetKind.NEGATIVE, SheetKind.WEDGE, None]),
    st.sampled_from(NAMES),
)
jobs = st.lists(entries, min_size=1, max_size=6).map(
    lambda found: tuple(sheet_of(number, *entry) for number, entry in enumerate(found))
)


@given(jobs)
def test_at_most_one_negative_of_each_separation_counts_and_it_is_the_newest(sheets):
    counted = standing(sheets)
    names = [fold(negative.separation_name) for _, negative in counted.negatives]
    assert len(names) == len(set(names))
    for owner, negative in counted.negatives:
        newer = sheets[sheets.index(owner) + 1 :]
        same = fold(negative.separation_name)
        assert all(
            fold(other.separation_name) != same for sheet in newer for other in sheet.negatives
        )


@given(jobs)
def test_newest_sheet_always_counts(sheets):
    assert standing(sheets).counts(sheets[-1])


@given(jobs)
def test_only_sheets_of_negatives_give_negatives(sheets):
    for owner, _ in standing(sheets).negatives:
        assert owner.sheet is not None
        assert owner.sheet.kind is SheetKind.NEGATIVE


@given(jobs)
def test_named_separation_is_never_lost(sheets):
    measured = {
        fold(negative.separation_name) for sheet in sheets for negative in sheet.negatives
    } - {""}
    counted = {fold(negative.separation_name) for _, negative in standing(sheets).negatives}
    assert measured <= counted


@given(jobs)
def test_sheet_that_is_replaced_for_good_changes_nothing(sheets):
    """The next verdict no longer reads a sheet that counts no more; its outcome must not change."""
    counted = standing(sheets)
    later = tuple(
        sheet
        if counted.counts(sheet)
        else JobSheet(sheet.name, "", "", None, dropped_as=sheet.dropped_as, replaced=True)
        for sheet in sheets
    )
    again = standing(later)
    assert [negative for _, negative in again.negatives] == [
        negative for _, negative in counted.negatives
    ]
    assert [sheet.name for sheet in (*again.unreadable, *again.other_kinds)] == [
        sheet.name for sheet in (*counted.unreadable, *counted.other_kinds)
    ]


def test_unnamed_negative_beside_a_named_one_in_one_sheet_is_not_replaced_by_it():
    both = Sheet(SheetKind.NEGATIVE, (Negative(), Negative(separation=Text("black"))))
    assert len(standing((JobSheet("7.csv", "", "", both),)).negatives) == 2


def test_sheet_is_known_by_the_name_it_was_dropped_under():
    assert JobSheet("7-2.csv", "", "", None, dropped_as="7.csv").own_name == "7.csv"
    assert JobSheet("7-2.csv", "", "", None).own_name == "7-2.csv"


def test_unreadable_sheet_whose_separations_are_known_waits_for_just_those():
    def read(separation):
        return Sheet(SheetKind.NEGATIVE, (Negative(separation=Text(separation)),))

    lost = JobSheet("a.csv", "", "", None, Problem("gone", ""), separations=("black", "cyan"))
    black = JobSheet("a.csv", "", "", read("Black"), dropped_as="a.csv")
    cyan = JobSheet("c.csv", "", "", read("cyan"))
    assert standing((lost, black)).unreadable == (lost,), "the same name does not stand for cyan"
    assert standing((lost, black, cyan)).unreadable == ()
    assert standing((cyan, lost, black)).unreadable == (lost,), "cyan was measured before it"
