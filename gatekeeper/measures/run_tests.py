"""Tests for patterns on a control chart: a point beyond its limit, a run, a trend, a crowd.

Units    `centre` and `sigma` in the unit of the readings; indices count from 0.
Shapes   one axis, one entry a reading, in the order in which they were made.
Sources  [N84] Nelson, Journal of Quality Technology 16, 1984; [WE56] Western Electric,
         Statistical Quality Control Handbook, 1956, after NIST/SEMATECH e-Handbook, 6.3.2;
         [ISO] ISO 7870-2:2013 (from memory, unconfirmed).
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.

Every test is judged at the newest reading, which must itself belong to the pattern. "Beyond" is
strict: a reading exactly on a line is neither above nor below it. Two equal neighbours neither
rise nor fall. Before there are enough readings for a window, the window holds those there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import IntEnum
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, TypeAlias

from gatekeeper.measures.arguments import Range, count, number, numbers
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.shewhart import READING

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Series


class RunTest(IntEnum):
    """The eight patterns, numbered as in [N84]; in brackets the length of its run or window."""

    BEYOND_3_SIGMA = 1
    """A reading farther than 3 sigma from the centre (1)."""
    ONE_SIDE = 2
    """A run on one side of the centre (9)."""
    TREND = 3
    """A run that steadily rises or steadily falls (6)."""
    ALTERNATING = 4
    """A run that goes up and down in turn (14)."""
    TWO_OF_THREE = 5
    """Two of three farther than 2 sigma on the same side (3)."""
    FOUR_OF_FIVE = 6
    """Four of five farther than 1 sigma on the same side (5)."""
    WITHIN_1_SIGMA = 7
    """A run within 1 sigma of the centre, on either side (15)."""
    NONE_WITHIN_1_SIGMA = 8
    """A run farther than 1 sigma from the centre, on both sides (8)."""


Lengths: TypeAlias = Mapping[int, int]
"""For each test by its number, the length of its run or window, in readings."""

NELSON: Final[Lengths] = MappingProxyType({1: 1, 2: 9, 3: 6, 4: 14, 5: 3, 6: 5, 7: 15, 8: 8})
"""All eight, [N84]."""

WESTERN_ELECTRIC: Final[Lengths] = MappingProxyType({1: 1, 2: 8, 5: 3, 6: 5})
"""The four zone tests, [WE56]."""

ISO_7870_2: Final[Lengths] = MappingProxyType({1: 1, 2: 7, 3: 7})
"""A point beyond its limit, a run of seven, a trend of seven, [ISO]."""

_SHORTEST: Final = MappingProxyType({2: 2, 3: 3, 4: 3, 7: 2, 8: 2})
_SIGMA = Range(above=0.0, at_most=1e100)


def run_signals(
    values: Series,
    *,
    centre: float,
    sigma: float,
    tests: Iterable[int] | Lengths = NELSON,
) -> tuple[tuple[int, RunTest], ...]:
    """Where readings form a pattern that chance alone seldom makes.

    Parameters
    ----------
    values : readings in time order, any unit, shape (n,)
    centre : centre line, unit of `values`
    sigma : standard deviation of one reading, unit of `values`, above 0
    tests : numbers of the tests to apply, with the lengths of [N84]; or a mapping from number to
        length, such as `NELSON`, `WESTERN_ELECTRIC` and `ISO_7870_2`

    Returns
    -------
    Pairs (index of the newest reading of the pattern, test), by index, then test. A pattern that
    goes on signals at each further reading that belongs to it.

    Raises
    ------
    MeasureError : an argument is not finite, `sigma` is not above 0, a test does not exist, or it
        cannot have that length

    Notes
    -----
    The statements are those of `RunTest`. Tests 3 and 4 look at the order only.

    Examples
    --------
    >>> signals = run_signals([0, 1, 2, 3, 4, 5, 6], centre=0, sigma=2, tests=(3, 5))
    >>> [(index, int(test)) for index, test in signals]
    [(5, 3), (6, 3), (6, 5)]
    """
    readings = numbers(values, "values", READING)
    centre, sigma = number(centre, "centre", READING), number(sigma, "sigma", _SIGMA)
    found = [
        (index, test)
        for test, length in _lengths(tests).items()
        for index in _PATTERNS[test](_Zones(readings, centre, sigma), length)
    ]
    return tuple(sorted(found))


def _lengths(tests: Iterable[int] | Lengths) -> dict[RunTest, int]:
    try:
        asked = list(tests)
    except TypeError:
        raise MeasureError(
            "tests", "must be test numbers or a mapping from number to length"
        ) from None
    known = {}
    for position, entry in enumerate(asked):
        test = count(entry, "tests")
        if test not in NELSON:
            raise MeasureError("tests", f"is {test} but the tests are 1 to {len(NELSON)}", position)
        length = tests[entry] if isinstance(tests, Mapping) else NELSON[test]
        known[RunTest(test)] = _length(test, length)
    return known


def _length(test: int, asked: int) -> int:
    name = f"tests[{test}]"
    length = count(asked, name)
    if test not in _SHORTEST and length != NELSON[test]:
        raise MeasureError(name, f"has the length {length} but can only have {NELSON[test]}")
    if length < _SHORTEST.get(test, 1):
        raise MeasureError(name, f"has the length {length} but needs at least {_SHORTEST[test]}")
    return length


class _Zones:
    """Readings as signs: +1 above, -1 below, 0 neither."""

    def __init__(self, readings: list[float], centre: float, sigma: float) -> None:
        self._readings = readings
        self._centre = centre
        self._sigma = sigma

    def beyond(self, sigmas: float) -> list[int]:
        """Farther than so many sigmas from the centre, and on which side."""
        # Limits as the chart draws them: dividing by sigma instead would round differently.
        high = self._centre + sigmas * self._sigma
        low = self._centre - sigmas * self._sigma
        return [(value > high) - (value < low) for value in self._readings]

    def within(self) -> list[int]:
        """Nearer than 1 sigma to the centre."""
        high, low = self._centre + self._sigma, self._centre - self._sigma
        return [int(low < value < high) for value in self._readings]

    def steps(self) -> list[int]:
        """Up or down from the reading before; the first is 0."""
        moves = [(after > before) - (after < before) for before, after in pairwise(self._readings)]
        return [0, *moves] if self._readings else []


def _runs(signs: list[int], length: int) -> list[int]:
    """Find where the same sign, not 0, has stood for at least so many in a row."""
    found, run, last = [], 0, 0
    for index, sign in enumerate(signs):
        run = run + 1 if sign == last else 1
        last = sign
        if sign and run >= length:
            found.append(index)
    return found


def _crowds(signs: list[int], needed: int, window: int) -> list[int]:
    """Find the signs that are met often enough in the window that ends there."""
    return [
        index
        for index, sign in enumerate(signs)
        if sign and signs[max(0, index + 1 - window) : index + 1].count(sign) >= needed
    ]


def _trend(zones: _Zones, length: int) -> list[int]:
    return _runs(zones.steps(), length - 1)


def _alternating(zones: _Zones, length: int) -> list[int]:
    # With every second sign turned, going up and down in turn is a run of one sign.
    turned = [sign * (-1) ** index for index, sign in enumerate(zones.steps())]
    return _runs(turned, length - 1)


def _none_within(zones: _Zones, length: int) -> list[int]:
    sides = zones.beyond(1)
    runs = _runs([abs(side) for side in sides], length)
    return [index for index in runs if len(set(sides[index + 1 - length : index + 1])) > 1]


_PATTERNS: Final[Mapping[RunTest, Callable[[_Zones, int], list[int]]]] = MappingProxyType(
    {
        RunTest.BEYOND_3_SIGMA: lambda zones, length: _crowds(zones.beyond(3), 1, length),
        RunTest.ONE_SIDE: lambda zones, length: _runs(zones.beyond(0), length),
        RunTest.TREND: _trend,
        RunTest.ALTERNATING: _alternating,
        RunTest.TWO_OF_THREE: lambda zones, length: _crowds(zones.beyond(2), 2, length),
        RunTest.FOUR_OF_FIVE: lambda zones, length: _crowds(zones.beyond(1), 4, length),
        RunTest.WITHIN_1_SIGMA: lambda zones, length: _runs(zones.within(), length),
        RunTest.NONE_WITHIN_1_SIGMA: _none_within,
    }
)
