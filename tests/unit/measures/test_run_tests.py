from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.run_tests import (
    ISO_7870_2,
    NELSON,
    WESTERN_ELECTRIC,
    RunTest,
    run_signals,
)

# In sigmas, with every zone and every line of the chart.
READINGS = st.lists(
    st.sampled_from([-3.5, -3, -2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5]),
    max_size=30,
)


def signals(readings, *tests):
    return [index for index, _ in run_signals(readings, centre=0, sigma=1, tests=tests)]


def of_the_statement(readings, test):  # noqa: PLR0911 - one statement a test, as Nelson has them
    """Nelson's statements word by word, judged on the window that ends with the last reading."""
    window = readings[-NELSON[test] :]
    last, full = readings[-1], len(window) == NELSON[test]
    side = 1 if last > 0 else -1
    steps = [b - a for a, b in pairwise(window)]
    if test == 1:
        return abs(last) > 3
    if test == 2:
        return full and (min(window) > 0 or max(window) < 0)
    if test == 3:
        return full and (min(steps) > 0 or max(steps) < 0)
    if test == 4:
        return full and all(a * b < 0 for a, b in pairwise(steps))
    if test == 5:
        return side * last > 2 and sum(side * reading > 2 for reading in window) >= 2
    if test == 6:
        return side * last > 1 and sum(side * reading > 1 for reading in window) >= 4
    if test == 7:
        return full and max(map(abs, window)) < 1
    return full and min(map(abs, window)) > 1 and min(window) < 0 < max(window)


@given(READINGS, st.sampled_from(sorted(NELSON)))
def test_each_test_signals_just_where_its_statement_holds(readings, test):
    expected = [
        index for index in range(len(readings)) if of_the_statement(readings[: index + 1], test)
    ]
    assert signals(readings, test) == expected


PATTERNS = {
    1: [0, 3.1],
    2: [-1, *[0.5] * 9],
    3: [0, -0.5, -0.4, -0.3, 0.2, 0.3, 0.4],
    4: [0, 0.1] * 7,
    5: [0, 2.1, 0, 2.2],
    6: [0, 1.1, 1.2, -0.1, 1.3, 1.1],
    7: [2, *[0.3, -0.4, 0.9] * 5],
    8: [0, *[1.1, -1.2, 1.4, 1.3] * 2],
}


@pytest.mark.parametrize("test", PATTERNS)
def test_pattern_signals_at_its_last_reading_and_not_before(test):
    pattern = PATTERNS[test]
    assert signals(pattern, test) == [len(pattern) - 1]


@pytest.mark.parametrize("test", PATTERNS)
@pytest.mark.parametrize("scale", [-1.0, 0.02])
def test_mirror_image_and_other_units_signal_alike(test, scale):
    moved = [2.9 + scale * reading for reading in PATTERNS[test]]
    found = run_signals(moved, centre=2.9, sigma=abs(scale), tests=[test])
    assert found == ((len(moved) - 1, RunTest(test)),)


@pytest.mark.parametrize(
    ("test", "readings"),
    [
        (1, [3.0, -3.0]),
        (2, [0.5] * 8),
        (2, [*[0.5] * 5, 0, *[0.5] * 5]),
        (3, [1, 2, 3, 3, 4, 5]),
        (4, [0, 1] * 3 + [1] + [0, 1] * 3),
        (5, [2.5, 0, 0, 2.5]),
        (5, [2.5, -2.5]),
        (6, [1.5, 1.5, 0, 0, 1.5, 1.5]),
        (7, [*[0.3] * 14, 1.0]),
        (8, [1.5] * 8),
        (8, [1.5, -1.5, 1.0, *[1.5, -1.5] * 3]),
    ],
)
def test_pattern_that_just_fails_does_not_signal(test, readings):
    assert signals(readings, test) == []


def test_pattern_that_goes_on_signals_at_each_further_reading():
    assert signals([0.5] * 11, 2) == [8, 9, 10]


def test_signals_come_by_reading_then_by_test():
    found = run_signals([2.5, 2.5, 3.5], centre=0, sigma=1)
    assert found == ((1, 5), (2, 1), (2, 5))
    assert [test.name for _, test in found] == ["TWO_OF_THREE", "BEYOND_3_SIGMA", "TWO_OF_THREE"]


def test_published_sets_differ_in_the_length_of_the_run():
    run = [0.5] * 10
    first = [
        run_signals(run, centre=0, sigma=1, tests=tests)[0]
        for tests in (ISO_7870_2, WESTERN_ELECTRIC, NELSON)
    ]
    assert first == [(6, 2), (7, 2), (8, 2)]
    assert signals(list(range(9)), 3) == [5, 6, 7, 8]
    rising = run_signals(range(9), centre=4, sigma=9, tests=ISO_7870_2)
    assert rising == ((6, 3), (7, 3), (8, 3))


def test_every_published_set_has_lengths_that_can_be_used():
    for tests in (ISO_7870_2, WESTERN_ELECTRIC, NELSON):
        assert run_signals([0.0], centre=0, sigma=1, tests=tests) == ()


def test_no_test_and_no_reading_give_no_signal():
    assert run_signals([9.0] * 20, centre=0, sigma=1, tests=()) == ()
    assert run_signals([], centre=0, sigma=1) == ()


@pytest.mark.parametrize(
    ("tests", "message"),
    [
        ([1, 9], r"tests\[1\] is 9 but the tests are 1 to 8"),
        ([0], r"tests is 0.0 but must be at least 1"),
        ([2.5], r"tests is 2.5 but must be a whole number"),
        ("12", r"tests is '1', not a number"),
        (3, r"tests must be test numbers or a mapping"),
        ({5: 4}, r"tests\[5\] has the length 4 but can only have 3"),
        ({3: 2}, r"tests\[3\] has the length 2 but needs at least 3"),
        ({2: 7.5}, r"tests\[2\] is 7.5 but must be a whole number"),
    ],
)
def test_what_is_no_test_is_refused(tests, message):
    with pytest.raises(MeasureError, match=message):
        run_signals([0.0], centre=0, sigma=1, tests=tests)
