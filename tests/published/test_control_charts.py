"""The charts and the capability give what handbooks print. Values: data/control_charts.yaml."""

from __future__ import annotations

import math
from itertools import permutations
from pathlib import Path
from statistics import NormalDist

import pytest
import yaml

from gatekeeper.measures.chart import (
    NELSON,
    capability,
    cusum,
    ewma,
    individuals,
    run_signals,
)
from gatekeeper.measures.shewhart import D2, D4, WIDTH

DATA = yaml.safe_load(
    (Path(__file__).parent / "data" / "control_charts.yaml").read_text(encoding="utf-8")
)


def near(case, value):
    return pytest.approx(value, abs=case["tolerance"]["abs"])


def test_factors_of_the_chart_are_the_printed_ones():
    case = DATA["factors"]
    assert (case["d2"], case["D4"]) == (D2, D4)
    assert near(case, case["E2"]) == WIDTH / D2
    assert near(case, D2) == 2 / math.sqrt(math.pi)


def test_individuals_chart_has_the_printed_limits():
    case = DATA["flow_rate"]
    chart = individuals(case["values"])
    for field, expected in case["expect"].items():
        assert getattr(chart, field) == near(case, expected), field
    assert list(chart.outside) == case["outside"]
    assert chart.range_upper == near(case, 3.267 * chart.range_centre)


def test_weighted_average_has_the_printed_values_and_limits():
    case = DATA["ewma"]
    chart = ewma(case["values"], **case["given"], widening=False)
    limits = case["tolerance"]["limits_abs"]
    assert list(chart.values) == near(case, case["expect"])
    for field, expected in case["limits"].items():
        assert getattr(chart, field) == pytest.approx([expected] * 20, abs=limits), field
    assert list(chart.signals) == case["signals"]


def test_cumulative_sums_are_the_printed_ones():
    case = DATA["cusum"]
    chart = cusum(case["values"], **case["given"])
    assert list(chart.upper) == near(case, case["upper"])
    assert list(chart.lower) == near(case, case["lower"])


def test_cumulative_sum_signals_where_the_book_says_and_dates_the_shift():
    case = DATA["cusum"]
    chart = cusum(case["values"], **case["given"])
    first = chart.signals[0]
    assert first + 1 == case["first_signal"]
    assert first + 1 - chart.upper_since[first] == case["last_zero_before_it"]


def test_capability_of_a_process_off_centre_is_the_printed_one():
    case = DATA["capability"]
    reach = case["sd"] / math.sqrt(2)
    readings = [case["mean"] - reach, case["mean"] + reach]
    result = capability(readings, **case["given"])
    assert result.overall_sd == pytest.approx(case["sd"])
    for field, expected in case["expect"].items():
        assert getattr(result, field) == near(case, expected), field


def test_capability_from_neighbours_is_the_printed_one_at_their_standard_deviation():
    case = DATA["capability"]
    step = case["sd"] * D2
    readings = [case["mean"] - step / 2, case["mean"] + step / 2] * 10
    result = capability(readings, **case["given"])
    assert result.cp == near(case, case["expect"]["pp"])
    assert result.cpk == near(case, case["expect"]["ppk"])


def test_capability_stands_for_the_printed_share_of_rejects():
    for index, share in DATA["rejects"]["rows"]:
        readings = [50 + sign / math.sqrt(2) for sign in (-1, 1)]
        result = capability(readings, lower=50 - 3 * index, upper=50 + 3 * index)
        beyond = 2 * NormalDist().cdf(-3 * result.pp)
        assert beyond == pytest.approx(share, rel=DATA["rejects"]["tolerance"]["rel"])


@pytest.mark.parametrize(("length", "orders"), DATA["alternating"]["rows"])
def test_alternating_runs_are_as_many_as_the_zigzag_numbers(length, orders):
    found = sum(
        bool(run_signals(order, centre=0, sigma=1, tests={4: length}))
        for order in permutations(range(length))
    )
    assert found == 2 * orders


def test_trends_are_two_orders_of_all():
    found = [
        run_signals(order, centre=0, sigma=1, tests=[3]) for order in permutations(range(NELSON[3]))
    ]
    assert sum(map(bool, found)) == 2
