"""A table of limits over past readings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.history.replay import PastAnswer
from gatekeeper.trying.candidates import SHARES, candidates

MIN = ("solid_density", "min")
MAX = ("clear_density", "max")
TINT = ("tints", "50", "tolerance")


def answers(numbers, rule="solid_density.min"):
    return [PastAnswer(job, rule, "pass", number, 2.7) for job, number in enumerate(numbers)]


def rows(table):
    return [(row.limit, row.held.part) for row in table.rows]


HUNDRED = [2.60 + number / 100 for number in range(100)]  # 2.60, 2.61 … 3.59


def test_limit_from_below_holds_the_share_asked_for():
    table = candidates(MIN, answers(HUNDRED))
    assert rows(table) == [(2.6, 0), (2.61, 1), (2.62, 2), (2.65, 5), (2.7, 10), (2.8, 20)]
    assert (table.rule, table.unit) == ("solid_density.min", "density")
    assert (table.worst, table.best) == (2.6, pytest.approx(3.59))


def test_limit_from_above_holds_the_share_asked_for():
    numbers = [number / 100 for number in range(1, 101)]
    assert rows(candidates(MAX, answers(numbers), [0, 0.05, 0.5])) == [
        (1.0, 0),
        (0.95, 5),
        (0.5, 50),
    ]


def test_tint_is_taken_by_its_difference_from_the_nominal():
    table = candidates(TINT, answers([48.0, 51.0, 50.5, 47.0]), [0, 0.25, 0.5])
    assert rows(table) == [(3.0, 0), (2.0, 1), (1.0, 2)]


def test_job_counts_once_by_its_worst_negative():
    found = [PastAnswer(1, "r", "pass", 2.9, 2.7), PastAnswer(1, "r", "pass", 2.6, 2.7)]
    assert candidates(MIN, found, [0]).rows[0].held.whole == 1
    assert rows(candidates(MIN, found, [0])) == [(2.6, 0)]
    assert rows(candidates(MAX, found, [0])) == [(2.9, 0)]


def test_limit_is_rounded_to_the_side_that_holds_fewer():
    assert rows(candidates(MIN, answers([2.6789, 2.7999]), [0])) == [(2.67, 0)]
    assert rows(candidates(MAX, answers([0.0612, 0.0101]), [0])) == [(0.07, 0)]
    assert rows(candidates(("film", "max_age_days"), answers([30.2]), [0])) == [(31.0, 0)]


def test_number_that_stands_on_a_step_is_not_moved_by_its_binary_trace():
    assert rows(candidates(MIN, answers([2.8000000000000003]), [0])) == [(2.8, 0)]
    assert rows(candidates(MAX, answers([0.06000000000000001]), [0])) == [(0.06, 0)]


def test_equal_limits_are_one_row():
    assert len(candidates(MIN, answers([2.7] * 50)).rows) == 1


def test_jobs_without_a_number_are_left_out():
    assert candidates(MIN, [PastAnswer(1, "r", "not judged", None, 2.7)]) is None
    assert candidates(MIN, []) is None


@given(
    st.lists(st.floats(0, 5), min_size=1, max_size=60),
    st.sampled_from([MIN, MAX, ("film", "max_age_days")]),
)
def test_no_limit_holds_more_than_its_share_and_stricter_ones_hold_no_fewer(numbers, path):
    table = candidates(path, answers(numbers))
    parts = [row.held.part for row in table.rows]
    assert parts == sorted(parts)
    assert table.rows[0].held.part == 0
    for row in table.rows:
        assert row.held.part <= max(SHARES) * len(numbers)
        is_held = (
            (lambda n, row=row: n < row.limit - 1e-9)
            if path is MIN
            else (lambda n, row=row: n > row.limit + 1e-9)
        )
        assert row.held.part == sum(map(is_held, numbers))
