"""Phase II: every reading behind the base period against its limits, singly and in patterns.

Units    those of the readings.
Sources  single readings and their steps as in `measures.shewhart`; runs by ISO 7870-2:2013 (from
         memory, see `measures.run_tests`); moving average with weight 0.2 and width 2.962: a false
         alarm every 500 readings on average (Lucas and Saccucci 1990, table 3); cumulative sum
         with k 0.5 and h 5: every 465 (Lucas and Crosier 1982). These figures hold for limits that
         are known; limits from twenty readings give false alarms more often, which is why one sign
         alone is listed but not told as news.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.chart import ISO_7870_2, RunTest, cusum, ewma, run_signals

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gatekeeper.control.base_period import BasePeriod
    from gatekeeper.measures.shewhart import IndividualsChart

EWMA_WEIGHT: Final = 0.2
EWMA_WIDTH: Final = 2.962
CUSUM_ALLOWANCE: Final = 0.5
CUSUM_LIMIT: Final = 5.0

FEWEST_OFF: Final = 3
"""Readings that must have left before the level is said to have changed: one may be a slip."""


class Kind(StrEnum):
    """What a reading shows."""

    BEYOND = "outside its limits"
    JUMP = "jump"
    RUN = "run on one side"
    TREND = "steady rise or fall"
    AVERAGE = "moving average off"
    SUM = "cumulative sum off"


_RUNS = {
    RunTest.BEYOND_3_SIGMA: Kind.BEYOND,
    RunTest.ONE_SIDE: Kind.RUN,
    RunTest.TREND: Kind.TREND,
}


@dataclass(frozen=True, slots=True)
class Sign:
    """One reading that shows something; `index` counts from 0 in the segment."""

    index: int
    kind: Kind


@dataclass(frozen=True, slots=True)
class Watch:
    """What a segment shows.

    Attributes
    ----------
    signs : by index, then kind
    is_off : the moving average or the cumulative sum is beyond its limit at the newest reading,
        and more than one wild reading has brought it there: the level has changed
    since : index of the reading with which the level began to leave; None while it has not
    side : +1 above the level of the base period, -1 below, 0 neither
    level : that of the base period
    """

    signs: tuple[Sign, ...] = ()
    is_off: bool = False
    since: int | None = None
    side: int = 0
    level: float = 0.0

    def at(self, index: int) -> tuple[Kind, ...]:
        """Return what one reading shows."""
        return tuple(sign.kind for sign in self.signs if sign.index == index)


def watch(values: Sequence[float], base: BasePeriod) -> Watch:
    """Hold the readings of a segment against the limits of its base period.

    Parameters
    ----------
    values : all readings of the segment in order, those of the base period included, shape (n,)

    Returns
    -------
    What they show; nothing while there are no limits.
    """
    chart = base.chart
    if chart is None:
        return Watch()
    readings = list(values)
    signs = [*_single(readings, base, chart), *_slow(readings[base.readings :], base, chart)]
    order = list(Kind)
    signs.sort(key=lambda sign: (sign.index, order.index(sign.kind)))
    since, side = _excursion(readings[base.readings :], chart)
    last = len(readings) - 1
    slow = any(sign.index == last and sign.kind in {Kind.AVERAGE, Kind.SUM} for sign in signs)
    first = None if since is None else base.readings + since
    return Watch(
        signs=tuple(signs),
        is_off=slow and first is not None and len(readings) - first >= FEWEST_OFF,
        since=first,
        side=side,
        level=chart.centre,
    )


def _single(readings: list[float], base: BasePeriod, chart: IndividualsChart) -> Iterator[Sign]:
    """Yield single readings and runs; of the base period only what was set aside."""
    found = run_signals(readings, centre=chart.centre, sigma=chart.sigma, tests=ISO_7870_2)
    for index, test in found:
        if index >= base.readings or (test is RunTest.BEYOND_3_SIGMA and index in base.set_aside):
            yield Sign(index, _RUNS[test])
    for index, (before, after) in enumerate(pairwise(readings), start=1):
        if index >= base.readings and abs(after - before) > chart.range_upper:
            yield Sign(index, Kind.JUMP)


def _slow(readings: list[float], base: BasePeriod, chart: IndividualsChart) -> Iterator[Sign]:
    average = ewma(
        readings,
        target=chart.centre,
        sigma=chart.sigma,
        lam=EWMA_WEIGHT,
        width=EWMA_WIDTH,
        widening=False,
    )
    total = cusum(
        readings, target=chart.centre, sigma=chart.sigma, k=CUSUM_ALLOWANCE, h=CUSUM_LIMIT
    )
    for kind, signals in ((Kind.AVERAGE, average.signals), (Kind.SUM, total.signals)):
        for index in signals:
            yield Sign(base.readings + index, kind)


def _excursion(readings: list[float], chart: IndividualsChart) -> tuple[int | None, int]:
    """Return where the larger of the two sums began to rise, and on which side."""
    if not readings:
        return None, 0
    total = cusum(
        readings, target=chart.centre, sigma=chart.sigma, k=CUSUM_ALLOWANCE, h=CUSUM_LIMIT
    )
    up, down = total.upper[-1], total.lower[-1]
    if up == down == 0:
        return None, 0
    runs, side = (total.upper_since, 1) if up >= down else (total.lower_since, -1)
    return len(readings) - runs[-1], side
