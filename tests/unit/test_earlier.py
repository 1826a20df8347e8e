"""Which earlier readings were of the same negative."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from gatekeeper.case import JobSheet
from gatekeeper.earlier import earlier_measurements
from gatekeeper.sheet import Moment, Negative, Sheet, SheetKind, Text

NINE = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)


def negative(separation="black", printed=NINE, *, has_time=True):
    return Negative(
        separation=Text(separation) if separation else None,
        printed=Moment(printed, printed.isoformat(), has_time) if printed else None,
    )


def sheet(digest, *negatives, **changes):
    read = Sheet(SheetKind.NEGATIVE, negatives) if negatives else None
    return JobSheet(f"{digest}.csv", digest, "", read, **changes)


def counted(*sheets, zone=UTC):
    """Return how often the last negative of the last sheet was measured before, on which film."""
    owner = sheets[-1]
    found = earlier_measurements(sheets, owner, owner.negatives[-1], zone)
    return [entry.sheet.sha256 for entry in found if entry.is_same_film]


def test_every_earlier_sheet_of_the_separation_counts():
    assert counted(sheet("a", negative()), sheet("b", negative()), sheet("c", negative())) == [
        "a",
        "b",
    ]


def test_another_separation_does_not_count():
    assert counted(sheet("a", negative("cyan")), sheet("b", negative())) == []


def test_case_and_blanks_make_no_other_separation():
    assert counted(sheet("a", negative(" Black ")), sheet("b", negative())) == ["a"]


def test_sheet_that_named_no_separation_counts_for_the_one_named_now():
    assert counted(sheet("a", negative("")), sheet("b", negative())) == ["a"]


@pytest.mark.parametrize(
    ("digests", "before"),
    [
        ("aa", ""),
        ("aab", "a"),
        ("aba", "ab"),
        ("abab", "aba"),
        ("abbb", "a"),
        ("aaabbaa", "ab"),
    ],
)
def test_file_dropped_again_counts_only_after_another_one(digests, before):
    assert "".join(counted(*(sheet(digest, negative()) for digest in digests))) == before


def test_file_whose_bytes_nobody_knows_always_counts():
    assert counted(sheet("", negative()), sheet("", negative())) == [""]


def test_film_printed_anew_is_told_and_not_counted():
    later = negative(printed=NINE + timedelta(hours=1))
    sheets = (sheet("a", negative()), sheet("b", later))
    assert counted(*sheets) == []
    (told,) = earlier_measurements(sheets, sheets[1], later, UTC)
    assert (told.sheet.sha256, told.is_same_film) == ("a", False)


@pytest.mark.parametrize("which", [0, 1])
def test_sheet_without_a_time_of_printing_may_be_of_any_film(which):
    films = [negative(), negative()]
    films[which] = negative(printed=None)
    assert counted(sheet("a", films[0]), sheet("b", films[1])) == ["a"]


def test_printing_without_a_time_of_day_is_on_a_date_of_the_room():
    day = negative(printed=NINE.replace(hour=0), has_time=False)
    late = negative(printed=NINE.replace(hour=23, minute=30))
    assert counted(sheet("a", day), sheet("b", late)) == ["a"]
    assert counted(sheet("a", day), sheet("b", late), zone=timezone(timedelta(hours=1))) == []


def test_replaced_sheet_counts_by_what_it_held():
    old = sheet("a", replaced=True, before=Sheet(SheetKind.NEGATIVE, (negative(),)))
    assert counted(old, sheet("b", negative())) == ["a"]


def test_replaced_sheet_that_a_hand_took_away_counts_by_its_separation():
    lost = sheet("", replaced=True, separations=("black",))
    other = sheet("", replaced=True, separations=("cyan",))
    assert counted(lost, other, sheet("b", negative())) == [""]


def test_sheet_that_was_no_negative_does_not_count():
    wedge = JobSheet("a.csv", "a", "", Sheet(SheetKind.WEDGE, (negative(),)))
    slip = JobSheet("s.csv", "s", "", None, replaced=True, read_as="slip")
    unread = JobSheet("x.csv", "x", "", None)
    assert counted(wedge, slip, unread, sheet("b", negative())) == []


def test_one_sheet_may_hold_two_readings_of_one_negative():
    double = (negative(), negative())
    assert counted(sheet("a", *double)) == ["a"]
    assert counted(sheet("a", *double), sheet("a", *double)) == ["a"]
    assert counted(sheet("a", *double), sheet("b", *double)) == ["a", "a", "b"]
