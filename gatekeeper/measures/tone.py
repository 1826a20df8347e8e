"""Tone: what a printer makes of a tint, and what to send so that the tint comes out as wanted.

Units    percent dot area, 0 to 100, everywhere: wanted, sent and read.
Shapes   one axis, one entry a patch, in the order given; nothing is sorted or dropped.
Sources  regression and interpolation as in `monotone`; leaving each step out in turn is common
         practice; the limit of the slope is our own choice.
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.
"""

from __future__ import annotations

from collections.abc import Callable, Sized
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import fmean
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from gatekeeper.measures.arguments import (
    Range,
    argument,
    count,
    elementwise,
    number,
    numbers,
    same_length,
)
from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.monotone import MonotoneCurve, monotone_curve, monotone_fit
from gatekeeper.measures.wedge import (
    Patch,
    Response,
    left_out_errors,
    outliers,
    response,
    root_mean_square,
)

if TYPE_CHECKING:
    from gatekeeper.measures.arguments import Numbers, Series

__all__ = [
    "CurveInUse",
    "CurveStep",
    "MonotoneCurve",
    "ToneCurve",
    "linearize",
    "monotone_curve",
    "monotone_fit",
]

_PERCENT = Range(at_least=0.0, at_most=100.0, hint="percent")
_READ = Range(
    at_least=-10.0, at_most=110.0, hint="percent; zero the meter on the wedge's own patches"
)
# Steps nearer to each other than this many decimals of a percent are one step.
_DIGITS = 9
# As many levels as sixteen bits hold.
_MOST_LINES = 65_536


class CurveStep(NamedTuple):
    """One line of a curve: the percent wanted, and the percent to send for it."""

    nominal: float
    corrected: float


@dataclass(frozen=True)
class ToneCurve:
    """A printer's tone on one film, and its correction.

    Attributes
    ----------
    nominal, measured : the wedge as given: percent asked for and percent read, shape (n,)
    sent : percent that reached the printer, after the curve in use, shape (n,)
    residuals : `measured` less the smoothed curve, percent, shape (n,)
    left_out_errors : `measured` less what the other steps of the wedge let expect, percent, shape
        (n,); 0 and 100 are kept whatever their patches read, so there it is the residual
    leave_one_out : root mean square of these between 0 and 100, percent: how far to trust the curve
        between the steps of its wedge
    outliers : indices of patches that do not go with the others; measure them again
    """

    nominal: tuple[float, ...]
    measured: tuple[float, ...]
    sent: tuple[float, ...]
    residuals: tuple[float, ...]
    left_out_errors: tuple[float, ...]
    leave_one_out: float
    outliers: tuple[int, ...]
    _response: Response = field(repr=False)

    def predict(self, x: Numbers) -> Numbers:
        """Tell the reading to expect for a tint sent to the printer as it is.

        Parameters
        ----------
        x : percent sent, 0 to 100, one or many

        Returns
        -------
        Percent; one number for one, a list for a list, an array for an array.

        Raises
        ------
        MeasureError : a percent is not finite or not 0 to 100

        Notes
        -----
        Rises everywhere; 0 gives 0 and 100 gives 100. Source: `linearize`.

        Examples
        --------
        >>> curve = linearize([0, 25, 50, 75, 100], [0, 38, 66, 86, 100])
        >>> [round(reading, 1) for reading in curve.predict([50, 60])]
        [66.0, 74.8]
        """
        return elementwise(self._response, argument(x, "x", _PERCENT))

    def correct(self, x: Numbers) -> Numbers:
        """Percent to send so that a tint reads as wanted: `predict` backwards.

        Parameters
        ----------
        x : percent wanted, 0 to 100, one or many

        Returns
        -------
        Percent; one number for one, a list for a list, an array for an array. It replaces the
        curve in use, and is not applied on top of it.

        Raises
        ------
        MeasureError : a percent is not finite or not 0 to 100

        Notes
        -----
        By bisection to the last digit. Source: `linearize`.

        Examples
        --------
        >>> curve = linearize([0, 25, 50, 75, 100], [0, 38, 66, 86, 100])
        >>> [round(sent, 1) for sent in curve.correct([38, 50])]
        [25.0, 34.8]
        """
        return elementwise(self._response.inverse, argument(x, "x", _PERCENT))

    def table(self, steps: int | Series) -> tuple[CurveStep, ...]:
        """Correction as a table, to type in or to export.

        Parameters
        ----------
        steps : number of lines, 2 to 65536, evenly from 0 to 100 (21 gives every 5 percent); or
            the percents wanted

        Returns
        -------
        Pairs (percent wanted, percent to send).

        Raises
        ------
        MeasureError : fewer than 2 lines or too many, or a percent not within 0 to 100

        Notes
        -----
        Source: `correct`.

        Examples
        --------
        >>> curve = linearize([0, 25, 50, 75, 100], [0, 38, 66, 86, 100])
        >>> [(step.nominal, round(step.corrected, 1)) for step in curve.table(3)]
        [(0.0, 0.0), (50.0, 34.8), (100.0, 100.0)]
        """
        if isinstance(steps, Sized):
            wanted = numbers(steps, "steps", _PERCENT)
        else:
            wanted = _evenly(count(steps, "steps", at_least=2))
        return tuple(map(CurveStep, wanted, self.correct(wanted)))


def _evenly(lines: int) -> list[float]:
    if lines > _MOST_LINES:
        raise MeasureError("steps", f"is {lines} but must be at most {_MOST_LINES}")
    return [100.0 * line / (lines - 1) for line in range(lines)]


CurveInUse: TypeAlias = ToneCurve | Callable[[float], float]
"""A curve, or anything that takes the percent asked for and gives the percent sent."""


def linearize(nominal: Series, measured: Series, *, in_use: CurveInUse | None = None) -> ToneCurve:
    """Find a printer's tone from a wedge, and the curve that makes it straight.

    Parameters
    ----------
    nominal : percent asked for at each patch, 0 to 100, any order, repeats welcome, shape (n,)
    measured : percent dot area read there, shape (n,)
    in_use : curve through which the wedge was printed; None when it was printed without. One that
        is not a `ToneCurve` must keep 0 and 100 and must not fall

    Returns
    -------
    Curve from percent sent to percent read, and back.

    Raises
    ------
    MeasureError : a number that is not finite or not a percent, two lengths that differ, no patch
        between 0 and 100, readings that do not rise, or a curve in use that cannot be one

    Notes
    -----
    The readings are taken against what the curve in use sent, so the new curve needs no combining
    with the old one. Repeats are averaged; monotone regression takes out what noise makes fall;
    a monotone cubic joins the steps, through (0, 0) and (100, 100). The tone rises by at least
    1/`MAX_CORRECTION_SLOPE` percent per percent everywhere, so that its inverse, the correction,
    is never steeper than that: on a stretch where the printer shows no change, it would otherwise
    jump.

    Examples
    --------
    >>> curve = linearize([0, 25, 50, 75, 100], [0, 38, 66, 86, 100])
    >>> round(curve.correct(50.0), 1), round(curve.leave_one_out, 1)
    (34.8, 0.6)
    """
    asked = numbers(nominal, "nominal", _PERCENT)
    read = numbers(measured, "measured", _READ)
    same_length("nominal", asked, "measured", read)
    patches = list(map(Patch, _sent(asked, in_use), read))
    _require_wedge(patches)
    smoothed = response(patches)
    errors = left_out_errors(patches)
    return ToneCurve(
        nominal=tuple(asked),
        measured=tuple(read),
        sent=tuple(patch.sent for patch in patches),
        residuals=tuple(patch.read - smoothed(patch.sent) for patch in patches),
        left_out_errors=tuple(errors),
        leave_one_out=root_mean_square(
            error for error, patch in zip(errors, patches, strict=True) if patch.counts
        ),
        outliers=tuple(outliers(patches)),
        _response=smoothed,
    )


def _require_wedge(patches: list[Patch]) -> None:
    counting = [patch for patch in patches if patch.counts]
    if not counting:
        raise MeasureError("nominal", "has no patch between 0 and 100 percent")
    if all(patch.read <= 1 for patch in patches) and max(counting).sent > 10:  # noqa: PLR2004
        raise MeasureError("measured", "looks like fractions; percent are needed")
    middle = fmean(patch.sent for patch in counting)
    rise = sum((patch.sent - middle) * patch.read for patch in counting)
    if len({patch.sent for patch in counting}) > 1 and rise <= 0:
        raise MeasureError(
            "measured", "does not rise with nominal (zeroed on the wrong patch, or upside down?)"
        )


def _sent(asked: list[float], in_use: CurveInUse | None) -> list[float]:
    if in_use is None:
        return [round(step, _DIGITS) for step in asked]
    curve = in_use.correct if isinstance(in_use, ToneCurve) else in_use
    if not callable(curve):
        raise MeasureError("in_use", "must be a ToneCurve or a function of the percent")
    steps = sorted({0.0, 100.0, *asked})
    sent = {step: number(curve(step), "in_use", _PERCENT) for step in steps}
    if sent[0.0] != 0.0 or sent[100.0] != 100.0:  # noqa: PLR2004
        raise MeasureError(
            "in_use", f"sends {sent[0.0]!r} for 0 and {sent[100.0]!r} for 100 percent"
        )
    for before, after in pairwise(steps):
        if sent[after] < sent[before]:
            raise MeasureError("in_use", f"falls between {before!r} and {after!r} percent")
    return [round(sent[step], _DIGITS) for step in asked]
