"""The charts signal as often as published tables say. Values: data/run_lengths.csv.

Two ways. Tests for runs are exact: which patterns signal is asked of `run_signals` itself, and the
average follows from the chances of the zones by a Markov chain (Champ and Woodall's own way). The
two charts with a memory are simulated with a fixed seed, and must agree within four standard
errors; the limits of the moving average are held to the printed digits as well, by the integral
equation that Crowder solved.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from gatekeeper.measures.chart import cusum, ewma, run_signals

PATH = Path(__file__).parent / "data" / "run_lengths.csv"
with PATH.open(encoding="utf-8", newline="") as lines:
    ROWS = list(csv.DictReader(line for line in lines if not line.startswith("#")))

# Tests with their lengths; how many readings the longest looks back on; edges of the zones that
# the tests tell apart, in sigmas.
RUNS = {
    "shewhart": ({1: 1}, 0, (-3.0, 3.0)),
    "two-of-three": ({1: 1, 5: 3}, 2, (-3.0, -2.0, 2.0, 3.0)),
    "run-of-8": ({1: 1, 2: 8}, 7, (-3.0, 0.0, 3.0)),
}
RUNS_SIMULATED = 2000
STANDARD_ERRORS = 4


def rows_of(*schemes):
    return [
        pytest.param(row, id=f"{row['scheme']}-{row['lam']}{row['k']}-{row['shift']}")
        for row in ROWS
        if row["scheme"] in schemes
    ]


def parameters(row, *names):
    return {name: float(row[name]) for name in names}


def printed(row):
    return pytest.approx(float(row["published"]), abs=float(row["tolerance"]))


@cache
def chain(scheme):
    """States that have not signalled yet, and for each where every zone leads; None is a signal."""
    tests, memory, edges = RUNS[scheme]
    zones = [edges[0] - 1, *np.convolve(edges, [0.5, 0.5], "valid"), edges[-1] + 1]
    moves, waiting = {}, [()]
    while waiting:
        state = waiting.pop()
        if state in moves:
            continue
        moves[state] = []
        for zone in zones:
            path = (*state, float(zone))
            signals = run_signals(path, centre=0, sigma=1, tests=tests)
            is_signal = any(index == len(state) for index, _ in signals)
            after = None if is_signal else path[len(path) - min(memory, len(path)) :]
            moves[state].append(after)
            if after is not None:
                waiting.append(after)
    return moves


def average_run_length(scheme, shift):
    edges = RUNS[scheme][2]
    below = [NormalDist(shift).cdf(edge) for edge in edges]
    chances = np.diff([0.0, *below, 1.0])
    moves = chain(scheme)
    place = {state: number for number, state in enumerate(moves)}
    stays = np.zeros((len(place), len(place)))
    for state, afters in moves.items():
        for after, chance in zip(afters, chances, strict=True):
            if after is not None:
                stays[place[state], place[after]] += chance
    lengths = np.linalg.solve(np.eye(len(place)) - stays, np.ones(len(place)))
    return lengths[place[()]]


@pytest.mark.parametrize("row", rows_of(*RUNS))
def test_runs_signal_after_the_published_average(row):
    assert average_run_length(row["scheme"], float(row["shift"])) == printed(row), row["source"]


@pytest.mark.parametrize("row", rows_of("ewma"))
def test_limits_of_the_moving_average_lie_where_its_published_average_wants_them(row):
    given, shift = parameters(row, "lam", "width"), float(row["shift"])
    chart = ewma([0.0], target=0, sigma=1, **given, widening=False)
    # L(u) = 1 + integral of L(z) times the density of z after u, over z within the limits.
    nodes, weights = np.polynomial.legendre.leggauss(100)
    nodes, weights = nodes * chart.upper[0], weights * chart.upper[0]
    lam = given["lam"]

    def kernel(start):
        step = (nodes - (1 - lam) * start) / lam - shift
        return weights * np.exp(-(step**2) / 2) / np.sqrt(2 * np.pi) / lam

    lengths = np.linalg.solve(np.eye(100) - [kernel(node) for node in nodes], np.ones(100))
    assert 1 + kernel(0.0) @ lengths == printed(row), row["source"]


def first_signal(signals_of, rng, shift, guess):
    """How many readings a chart takes to its first signal."""
    readings = []
    while True:
        readings += rng.normal(shift, 1.0, max(8, int(2 * guess))).tolist()
        signals = signals_of([50 + 0.4 * reading for reading in readings])
        if signals:
            return signals[0] + 1


def assert_simulated(row, signals_of):
    published = float(row["published"])
    rng = np.random.default_rng(20261120)
    runs = RUNS_SIMULATED if published < 100 else RUNS_SIMULATED // 4
    lengths = [first_signal(signals_of, rng, float(row["shift"]), published) for _ in range(runs)]
    # The rounding of the printed figure comes on top: near 1 nothing else is left.
    reach = STANDARD_ERRORS * np.std(lengths) / np.sqrt(runs) + float(row["tolerance"])
    assert np.mean(lengths) == pytest.approx(published, abs=reach), row["source"]


@pytest.mark.parametrize("row", rows_of("ewma"))
def test_moving_average_signals_after_the_published_average(row):
    given = parameters(row, "lam", "width")
    assert_simulated(
        row,
        lambda readings: ewma(readings, target=50, sigma=0.4, **given, widening=False).signals,
    )


@pytest.mark.parametrize("row", rows_of("cusum"))
def test_cumulative_sum_signals_after_the_published_average(row):
    given = parameters(row, "k", "h")
    assert_simulated(row, lambda readings: cusum(readings, target=50, sigma=0.4, **given).signals)


@pytest.mark.parametrize("row", rows_of("upper cusum"))
def test_upper_sum_alone_signals_after_the_published_average(row):
    given = parameters(row, "k", "h")

    def signals_of(readings):
        chart = cusum(readings, target=50, sigma=0.4, **given)
        return [index for index, total in enumerate(chart.upper) if total > chart.limit]

    assert_simulated(row, signals_of)


def test_limits_that_widen_signal_sooner_from_the_start():
    given = {"target": 0, "sigma": 1, "lam": 0.2, "width": 2.962}
    once = [3.2, 0.0]
    assert ewma(once, **given).signals == (0,)
    assert ewma(once, **given, widening=False).signals == ()
