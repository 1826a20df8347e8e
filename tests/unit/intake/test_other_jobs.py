"""Which films are looked for among those of other jobs, and how far apart they came."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest

from gatekeeper.case import Case, FilmUse, JobSheet
from gatekeeper.filing.tickets import Sequence
from gatekeeper.intake.casework import UNKNOWN_USE
from gatekeeper.intake.other_jobs import beside_other_jobs
from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Negative, Number, Patch, PatchKind, Sheet, SheetKind, Text

NOON = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)


def ticket(days=0.0):
    return Sequence().next(NOON + timedelta(days=days))


def film(*solids, separation="black"):
    patches = [Patch(PatchKind.SOLID, density=Number(value, str(value))) for value in solids]
    return Negative(separation=Text(separation), patches=tuple(patches))


BLACK = film(2.90, 2.91, 2.92, 2.93)
RED = film(3.00, 3.01, 3.02, 3.03, separation="red")
FEW = film(2.90, 2.91, 2.92, 2.92)


def sheet(*negatives, days=0.0, kind=SheetKind.NEGATIVE, **changes):
    return JobSheet("7.csv", "", ticket(days), Sheet(kind, negatives), **changes)


def case(*sheets, **changes):
    return Case("t", "7", "plate", sheets, NOON, UTC, **changes)


@dataclass
class Others:
    """What the history knows, and what it was asked."""

    known: dict[str, FilmUse | None] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)

    def __call__(self, digits, *, ticket, other_than):
        assert (bool(ticket), other_than) == (True, "7")
        self.asked.append(digits)
        return self.known.get(digits, FilmUse())


def digits(negative):
    return digits_of(negative).sha256


def test_film_that_no_other_job_had_leaves_the_case_as_it_is():
    given = case(sheet(BLACK))
    assert beside_other_jobs(given, Others()) == given


@pytest.mark.parametrize("days", [0.5, 3.0, -2.0])
def test_days_are_those_between_the_arrivals_whichever_came_first(days):
    others = Others({digits(BLACK): FilmUse("6", ticket(-days))})
    (same,) = beside_other_jobs(case(sheet(BLACK)), others).same_readings
    assert (same.digits, same.job) == (digits(BLACK), "6")
    assert same.days == pytest.approx(abs(days), abs=1e-6)


def test_ticket_without_a_moment_counts_as_now_so_that_the_job_is_held():
    others = Others({digits(BLACK): FilmUse("6", "t001")})
    (same,) = beside_other_jobs(case(sheet(BLACK)), others).same_readings
    assert same.days == 0.0


def test_every_film_that_counts_is_asked_for_once_and_no_other():
    others = Others()
    replaced = film(2.80, 2.81, 2.82, 2.83)
    beside_other_jobs(case(sheet(replaced), sheet(BLACK, days=1), sheet(RED, days=2)), others)
    assert others.asked == [digits(BLACK), digits(RED)]


@pytest.mark.parametrize("kind", [kind for kind in SheetKind if kind is not SheetKind.NEGATIVE])
def test_sheets_of_another_kind_are_not_asked_for(kind):
    others = Others()
    beside_other_jobs(case(sheet(BLACK, kind=kind)), others)
    assert others.asked == []


def test_film_of_too_few_readings_is_not_asked_for():
    others = Others()
    beside_other_jobs(case(sheet(FEW)), others)
    assert others.asked == []


def test_history_that_is_away_is_said_once_and_asked_no_further():
    others = Others({digits(BLACK): None})
    found = beside_other_jobs(case(sheet(BLACK, RED)), others)
    assert (found.notes, found.same_readings) == ((UNKNOWN_USE,), ())
    assert len(others.asked) == 1
    assert beside_other_jobs(found, others).notes == (UNKNOWN_USE,)


def test_of_two_films_with_the_same_digits_the_nearer_use_counts():
    alike = film(2.90, 2.91, 2.92, 2.93, separation="red")
    others = Others({digits(BLACK): FilmUse("6", ticket(-1))})
    given = case(sheet(BLACK), sheet(alike, days=5))
    (same,) = beside_other_jobs(given, others).same_readings
    assert same.days == pytest.approx(1.0, abs=1e-6)
