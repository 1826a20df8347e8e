"""A segment followed reading by reading: what its newest one shows, at the same cost for each.

The signs are those of `watch`, which looks at a whole segment at once; a test holds the two
together. Here the moving average and the sums go on from where the last reading left them, and the
run tests look at no more readings than their windows hold. While the base period is not full there
are no signs: its limits would still move.

Units    those of the readings.
Sources  as in `watch`.
Pure     no file, no clock, no database.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from gatekeeper.control.base_period import BASE_READINGS, base_period
from gatekeeper.control.watch import (
    CUSUM_ALLOWANCE,
    CUSUM_LIMIT,
    EWMA_WEIGHT,
    EWMA_WIDTH,
    FEWEST_OFF,
)
from gatekeeper.measures.chart import ISO_7870_2, RunTest, run_signals
from gatekeeper.signals import Sign

if TYPE_CHECKING:
    from datetime import datetime

    from gatekeeper.control.series import Point
    from gatekeeper.measures.shewhart import IndividualsChart

_WINDOW: Final = max(ISO_7870_2.values()) + 1
_REACH: Final = EWMA_WIDTH * math.sqrt(EWMA_WEIGHT / (2 - EWMA_WEIGHT))

_RUNS = {
    RunTest.ONE_SIDE: Sign.ONE_SIDE,
    RunTest.TREND: Sign.STEADY,
    RunTest.BEYOND_3_SIGMA: Sign.OUTSIDE,
}


@dataclass(slots=True)
class Excursion:
    """What a sum has gathered since it was 0 last."""

    total: float = 0.0
    readings: int = 0
    values: float = 0.0
    since: datetime | None = None

    def add(self, excess: float, point: Point) -> None:
        """Take in one reading."""
        self.total = max(0.0, self.total + excess)
        if self.total <= 0:
            self.readings, self.values, self.since = 0, 0.0, None
            return
        self.readings += 1
        self.values += point.value
        self.since = self.since or point.when

    @property
    def level(self) -> float:
        """Mean of the readings that it has gathered."""
        return self.values / self.readings


@dataclass(slots=True)
class FollowedSegment:
    """One quantity of one printer and film through one curve, lot and head."""

    chart: IndividualsChart | None = None
    newest: Point | None = None
    readings: int = 0
    up: Excursion = field(default_factory=Excursion)
    down: Excursion = field(default_factory=Excursion)
    _average: float = 0.0
    _early: list[Point] = field(default_factory=list)
    _last: deque[Point] = field(default_factory=lambda: deque(maxlen=_WINDOW))
    _signs: tuple[Sign, ...] | None = None  # until the next reading

    def add(self, point: Point) -> None:
        """Take in the next reading; none may be older than the one before."""
        self.readings += 1
        self._signs = None
        self.newest = point
        self._last.append(point)
        if self.readings <= BASE_READINGS:
            self._early.append(point)
            if self.readings == BASE_READINGS:
                self.chart = base_period([early.value for early in self._early]).chart
                self._average = self.chart.centre if self.chart else 0.0
        elif self.chart:
            allowance = CUSUM_ALLOWANCE * self.chart.sigma
            self.up.add(point.value - (self.chart.centre + allowance), point)
            self.down.add((self.chart.centre - allowance) - point.value, point)
            self._average = EWMA_WEIGHT * point.value + (1 - EWMA_WEIGHT) * self._average

    @property
    def excursion(self) -> Excursion:
        """The larger of the two sums."""
        return self.up if self.up.total >= self.down.total else self.down

    def signs(self) -> tuple[Sign, ...]:
        """Return what stands at the newest reading."""
        if self.chart is None or self.readings <= BASE_READINGS:
            return ()
        if self._signs is None:  # every job that is printed here asks
            self._signs = self._seen(self.chart)
        return self._signs

    def _seen(self, chart: IndividualsChart) -> tuple[Sign, ...]:
        found = {Sign.LEVEL} if self._is_off(chart) else set()
        values = [point.value for point in self._last]
        signals = run_signals(values, centre=chart.centre, sigma=chart.sigma, tests=ISO_7870_2)
        found |= {_RUNS[test] for index, test in signals if index == len(values) - 1}
        return tuple(sign for sign in Sign if sign in found)

    def _is_off(self, chart: IndividualsChart) -> bool:
        beyond = abs(self._average - chart.centre) > _REACH * chart.sigma
        beyond = beyond or self.excursion.total > CUSUM_LIMIT * chart.sigma
        return beyond and self.excursion.readings >= FEWEST_OFF
