from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.study import gauge_study, pooled_sd

GROUPS = st.lists(st.lists(st.floats(0, 5), min_size=1, max_size=8), min_size=1, max_size=8).filter(
    lambda groups: any(len(group) > 1 for group in groups)
)


def rows_of(readings):
    """Rows of an array of shape (parts, operators, repeats)."""
    return [(f"film {p}", f"hand {o}", value) for (p, o, _), value in np.ndenumerate(readings)]


def simulated(
    seed, parts=8, operators=3, repeats=3, *, part=0.3, operator=0.05, both=0.0, meter=0.02
):
    rng = np.random.default_rng(seed)
    return (
        2.9
        + rng.normal(0, part, (parts, 1, 1))
        + rng.normal(0, operator, (1, operators, 1))
        + rng.normal(0, both, (parts, operators, 1))
        + rng.normal(0, meter, (parts, operators, repeats))
    )


@given(st.integers(0, 10_000), st.integers(2, 6), st.integers(2, 4), st.integers(2, 4))
def test_sums_of_squares_add_up_to_the_whole(seed, parts, operators, repeats):
    readings = simulated(seed, parts, operators, repeats, both=0.03)
    squares = gauge_study(rows_of(readings)).mean_squares
    total = (
        squares.part * (parts - 1)
        + squares.operator * (operators - 1)
        + squares.interaction * squares.interaction_df
        + squares.repeatability * squares.repeatability_df
    )
    assert total == pytest.approx(((readings - readings.mean()) ** 2).sum())
    assert squares.repeatability == pytest.approx(readings.var(axis=2, ddof=1).mean())


@given(st.integers(0, 10_000), st.randoms())
def test_order_of_the_rows_does_not_matter(seed, shuffling):
    rows = rows_of(simulated(seed))
    mixed = list(rows)
    shuffling.shuffle(mixed)
    study, other = gauge_study(rows), gauge_study(mixed)
    for name in ("repeatability_sd", "reproducibility_sd", "part_sd", "interaction_p"):
        assert getattr(other, name) == pytest.approx(getattr(study, name), abs=1e-9)


@given(st.integers(0, 10_000), st.floats(0.01, 100))
def test_unit_of_the_readings_does_not_matter(seed, scale):
    readings = simulated(seed)
    study, scaled = gauge_study(rows_of(readings)), gauge_study(rows_of(scale * readings))
    assert scaled.gauge_sd == pytest.approx(scale * study.gauge_sd)
    assert scaled.category_ratio == pytest.approx(study.category_ratio)


@pytest.mark.parametrize("both", [0.0, 0.1])
def test_components_come_out_at_what_was_put_in(both):
    studies = [
        gauge_study(rows_of(simulated(seed, 10, 6, 3, operator=0.08, both=both)))
        for seed in range(300)
    ]
    assert np.sqrt(np.mean([s.repeatability_sd**2 for s in studies])) == pytest.approx(
        0.02, rel=0.05
    )
    hands = math.hypot(0.08, both)
    assert np.sqrt(np.mean([s.reproducibility_sd**2 for s in studies])) == pytest.approx(
        hands, rel=0.1
    )
    assert np.sqrt(np.mean([s.part_sd**2 for s in studies])) == pytest.approx(0.3, rel=0.1)
    pooled = np.mean([s.pooled for s in studies])
    assert pooled > 0.9 if both == 0 else pooled == 0


def test_interaction_that_matters_is_kept_apart():
    readings = simulated(1, both=0.2)
    study = gauge_study(rows_of(readings))
    squares = study.mean_squares
    assert not study.pooled
    assert study.interaction_p < 0.05
    assert study.repeatability_sd == pytest.approx(math.sqrt(squares.repeatability))
    hand = (squares.operator - squares.interaction) / (8 * 3)
    together = max(0, hand) + (squares.interaction - squares.repeatability) / 3
    assert study.reproducibility_sd == pytest.approx(math.sqrt(together))
    assert study.part_sd == pytest.approx(math.sqrt((squares.part - squares.interaction) / (3 * 3)))


def test_components_add_up():
    study = gauge_study(rows_of(simulated(2)))
    assert study.gauge_sd == pytest.approx(
        math.hypot(study.repeatability_sd, study.reproducibility_sd)
    )
    assert study.total_sd == pytest.approx(math.hypot(study.gauge_sd, study.part_sd))
    assert study.distinct_categories == int(1.41 * study.part_sd / study.gauge_sd)


def test_parts_that_do_not_differ_make_one_category():
    study = gauge_study(rows_of(simulated(3, part=0.0)))
    assert study.distinct_categories == 1
    assert study.part_sd < study.gauge_sd


def test_rows_may_be_lists_and_labels_may_be_numbers():
    readings = simulated(4, 3, 2, 2)
    lists = [[p, o, value] for (p, o, _), value in np.ndenumerate(readings)]
    assert gauge_study(lists).part_sd == gauge_study(rows_of(readings)).part_sd
    assert gauge_study(np.array(lists)).part_sd == gauge_study(lists).part_sd


GOOD = [(p, o, 2.9 + 0.1 * p + 0.01 * (o + r)) for p, o, r in product(range(2), repeat=3)]


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([], r"rows needs at least 2 parts but has 0"),
        ([(0, o, 2.9) for _, o, _ in GOOD], r"rows needs at least 2 parts but has 1"),
        ([(p, 0, value) for p, _, value in GOOD], r"rows needs at least 2 operators but has 1"),
        (GOOD[::2], r"rows has each part only once by each operator"),
        (GOOD[:-1], r"rows has part 1 by operator 1 1 times, not 2"),
        (GOOD[:-2], r"rows has part 1 by operator 1 0 times, not 2"),
        ([*GOOD, GOOD[0]], r"rows has part 0 by operator 1 2 times, not 3"),
        ([*GOOD, (1, 1)], r"rows\[8\] must be part, operator and value"),
        ([*GOOD, {1, 2, 3}], r"rows\[8\] must be part, operator and value"),
        ([*GOOD, dict.fromkeys("abc")], r"rows\[8\] must be part, operator and value"),
        ([*GOOD, 5], r"rows\[8\] must be part, operator and value"),
        ([*GOOD, (1, 1, math.nan)], r"rows\[8\] is nan, not a finite number"),
        ([*GOOD, (1, 1, "2.9")], r"rows\[8\] is '2.9', not a number"),
        ([*GOOD, ([1], 1, 2.9)], r"rows\[8\] has a part or operator that is no label"),
        ([(p, o, 2.9 + p) for p, o, _ in GOOD], r"rows has repeats that never differ"),
        (None, r"rows must be a list"),
    ],
)
def test_study_that_cannot_be_analysed_is_refused(rows, message):
    with pytest.raises(MeasureError, match=message):
        gauge_study(rows)


@given(GROUPS)
def test_pooled_standard_deviation_agrees_with_numpy(groups):
    squares = sum(((np.array(group) - np.mean(group)) ** 2).sum() for group in groups)
    df = sum(len(group) - 1 for group in groups)
    assert pooled_sd(groups) == pytest.approx(math.sqrt(squares / df), rel=1e-9, abs=1e-9)


@given(GROUPS)
def test_group_of_one_adds_nothing(groups):
    assert pooled_sd([*groups, [4.2]]) == pooled_sd(groups)


def test_groups_far_apart_pool_as_if_they_were_near():
    assert pooled_sd([[1, 2, 3], [1e6 + 1, 1e6 + 2, 1e6 + 3]]) == 1.0


@pytest.mark.parametrize(
    ("groups", "message"),
    [
        ([], r"groups has no group of two readings"),
        ([[1.0], [2.0]], r"groups has no group of two readings"),
        ([[1.0, 2.0], []], r"groups\[1\] needs at least 1 numbers but has 0"),
        ([[1.0, 2.0], [1.0, math.nan]], r"groups\[1\]\[1\] is nan"),
        ([1.0, 2.0], r"groups\[0\] must be a list of numbers"),
        (3.0, r"groups must be a list"),
    ],
)
def test_groups_that_cannot_be_pooled_are_refused(groups, message):
    with pytest.raises(MeasureError, match=message):
        pooled_sd(groups)
