"""Phase I: limits from a clean base period at the beginning of a segment.

Units    those of the readings.
Sources  limits of single readings as in `measures.shewhart`; setting aside what is outside and
         calculating again is common practice for phase I; twenty readings and more give limits
         that are worth having (NIST/SEMATECH e-Handbook, 6.3.2, asks for about as many).
Pure     no file, no clock, no database.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from gatekeeper.measures.chart import ISO_7870_2, forecast_crossing, individuals, run_signals
from gatekeeper.measures.errors import MeasureError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gatekeeper.measures.shewhart import IndividualsChart

BASE_READINGS: Final = 20
"""Readings that a base period takes, if the segment has them."""

FEWEST_READINGS: Final = 8
"""With fewer there are no limits yet."""

_MOST_SET_ASIDE: Final = 0.2  # of the base period; with more, nothing is left to call normal


@dataclass(frozen=True, slots=True)
class BasePeriod:
    """The readings that say what is normal, and the limits that follow from them.

    Attributes
    ----------
    readings : how many readings the period spans, from the first
    set_aside : indices within it that were outside and do not count
    chart : limits of what is left; None while there are too few readings, or they do not differ
    unclean : why the period is no good measure of normal, empty when it is
    """

    readings: int
    set_aside: tuple[int, ...]
    chart: IndividualsChart | None
    unclean: str = ""

    @property
    def is_provisional(self) -> bool:
        """Whether the limits rest on fewer readings than they should."""
        return self.readings < BASE_READINGS


def base_period(values: Sequence[float]) -> BasePeriod:
    """Find the limits of a segment.

    Parameters
    ----------
    values : readings of one segment in order, shape (n,)

    Returns
    -------
    The base period; without limits while there are fewer than `FEWEST_READINGS`.
    """
    span = list(values[:BASE_READINGS])
    if len(span) < FEWEST_READINGS:
        return BasePeriod(len(span), (), None, f"{len(span)} of {FEWEST_READINGS} readings so far")
    kept, chart = _without_outsiders(span)
    aside = tuple(sorted(set(range(len(span))) - set(kept)))
    if chart.sigma <= 0:
        return BasePeriod(len(span), aside, None, "the readings do not differ")
    return BasePeriod(len(span), aside, chart, _unclean(span, kept, chart))


def _without_outsiders(span: list[float]) -> tuple[list[int], IndividualsChart]:
    kept = list(range(len(span)))
    chart = individuals(span)
    while chart.outside and len(span) - len(kept) + len(chart.outside) <= _MOST_SET_ASIDE * len(
        span
    ):
        kept = [index for place, index in enumerate(kept) if place not in chart.outside]
        chart = individuals([span[index] for index in kept])
    return kept, chart


def _unclean(span: list[float], kept: list[int], chart: IndividualsChart) -> str:
    clean = [span[index] for index in kept]
    if _drifts(clean):
        return "it drifts itself"
    if chart.outside:
        return "too many of its readings are outside its own limits"
    signals = run_signals(clean, centre=chart.centre, sigma=chart.sigma, tests=ISO_7870_2)
    return "its readings stand on one side for long" if signals else ""


def _drifts(clean: list[float]) -> bool:
    try:
        # The limits do not matter here: only whether the slope is surely not 0.
        line = forecast_crossing(
            range(len(clean)), clean, lower=min(clean) - 1, upper=max(clean) + 1, confidence=0.99
        )
    except MeasureError:
        return False
    return line.is_drifting
