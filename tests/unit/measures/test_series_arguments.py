"""Every function that takes a series refuses the same things, and names what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gatekeeper.measures import chart, tone
from gatekeeper.measures.errors import MeasureError

SERIES = [50.0, 50.2, 49.9, 50.4, 50.1, 50.6]
GOOD_CALLS = {
    chart.individuals: {"values": SERIES},
    chart.ewma: {"values": SERIES, "target": 50.0, "sigma": 0.3, "lam": 0.2, "width": 3.0},
    chart.cusum: {"values": SERIES, "target": 50.0, "sigma": 0.3, "k": 0.5, "h": 5.0},
    chart.run_signals: {"values": SERIES, "centre": 50.0, "sigma": 0.3},
    chart.capability: {"values": SERIES, "lower": 48.0, "upper": 52.0, "confidence": 0.9},
    chart.forecast_crossing: {
        "times": [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "values": SERIES, "lower": 48.0, "upper": 52.0,
        "confidence": 0.9,
    },
    tone.monotone_fit: {"values": SERIES, "weights": [1.0] * 6},
    tone.monotone_curve: {"x": [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "y": SERIES},
    tone.linearize: {"nominal": [10, 25, 50, 60, 75, 90], "measured": [15, 35, 60, 70, 83, 94]},
}  # fmt: skip
ARGUMENTS = [
    pytest.param(function, name, id=f"{function.__name__}-{name}")
    for function, given in GOOD_CALLS.items()
    for name in given
]
SERIES_ARGUMENTS = [
    pytest.param(function, name, id=f"{function.__name__}-{name}")
    for function, given in GOOD_CALLS.items()
    for name, good in given.items()
    if isinstance(good, list)
]
BAD_NUMBERS = [math.nan, math.inf, -math.inf, True, "0.5", 1j, [[0.5]], 1e200]
BAD_ENTRIES = [math.nan, math.inf, True, "50", None, [50.0]]


def named(value):
    return f"{type(value).__name__}-{str(value)[:4]}"


@pytest.mark.parametrize("bad", BAD_NUMBERS, ids=named)
@pytest.mark.parametrize(("function", "name"), ARGUMENTS)
def test_what_is_no_finite_number_is_refused_by_name(function, name, bad):
    with pytest.raises(MeasureError) as caught:
        function(**GOOD_CALLS[function] | {name: bad})
    assert caught.value.argument == name


@pytest.mark.parametrize("bad", BAD_ENTRIES, ids=named)
@pytest.mark.parametrize(("function", "name"), SERIES_ARGUMENTS)
def test_bad_entry_of_a_series_is_refused_by_its_index(function, name, bad):
    good = GOOD_CALLS[function][name]
    with pytest.raises(MeasureError) as caught:
        function(**GOOD_CALLS[function] | {name: [*good[:4], bad, bad]})
    assert (caught.value.argument, caught.value.index) == (name, 4)


@pytest.mark.parametrize(("function", "name"), SERIES_ARGUMENTS)
def test_tuple_and_array_do_as_a_list_does(function, name):
    good = GOOD_CALLS[function][name]
    expected = function(**GOOD_CALLS[function])
    for kind in (tuple, np.array):
        assert function(**GOOD_CALLS[function] | {name: kind(good)}) == expected


@pytest.mark.parametrize(
    ("function", "name", "bad"),
    [
        (chart.ewma, "lam", 0.0),
        (chart.ewma, "lam", 1.01),
        (chart.ewma, "sigma", 0.0),
        (chart.ewma, "width", 0.0),
        (chart.cusum, "sigma", -0.3),
        (chart.cusum, "k", -0.1),
        (chart.cusum, "h", 0.0),
        (chart.run_signals, "sigma", 0.0),
        (chart.capability, "confidence", 95.0),
        (chart.forecast_crossing, "confidence", 1.0),
        (chart.individuals, "values", [50.0]),
        (chart.capability, "values", [50.0]),
        (chart.forecast_crossing, "times", SERIES[:4]),
    ],
)
def test_number_out_of_range_is_refused_by_name(function, name, bad):
    with pytest.raises(MeasureError) as caught:
        function(**GOOD_CALLS[function] | {name: bad})
    assert caught.value.argument == name


@pytest.mark.parametrize("function", [chart.capability, chart.forecast_crossing])
def test_one_limit_will_do_and_none_will_not(function):
    given = GOOD_CALLS[function]
    assert function(**given | {"lower": None})
    assert function(**given | {"upper": None})
    with pytest.raises(MeasureError, match=r"lower and upper are both missing"):
        function(**given | {"lower": None, "upper": None})
