"""Density and dot area of transparent film.

Units    densities: ISO 5, log10 units; *net* is over clear film. Transmittances and areas:
         fractions, 0 to 1; their uncertainties likewise.
Shapes   one number or one axis, one entry a patch, in the order read; nothing is sorted or
         dropped. A number comes back as a float, a list as a list, an array as an array.
Sources  [ISO5] ISO 5-1:2009 and ISO 5-2:2009 (scopes opened); [M36] A. Murray, J. Franklin
         Inst. 221, 1936 (read in a history of the equation); [YN51] J. A. C. Yule, W. J.
         Nielsen, TAGA Proc. 3, 1951 (from memory); [GUM] JCGM 100:2008, 5.1.2 (from memory).
Errors   `MeasureError`, naming the argument and the first offending index. No NaN in or out.

A density belongs to the light it was measured with. What the eye sees (*visual*) is not what a
plate sees (UV, near 365 nm): ink film in particular can be denser in one than in the other.
"""

from __future__ import annotations

import math
from typing import Literal, TypeAlias

from gatekeeper.measures.arguments import (
    NOT_NEGATIVE,
    POSITIVE,
    Numbers,
    Range,
    argument,
    choice,
    elementwise,
    number,
)

Reading: TypeAlias = Literal["negative", "positive"]
"""Which area of the film prints: the clear one of a negative, the black one of a positive."""

LN10 = math.log(10.0)

# A meter zeroed a little off reads clear film a few thousandths below zero, so slightly more
# than all the light is let through. A tenth of density is no longer zeroing but a wrong unit.
TRANSMITTANCE = Range(above=0.0, at_most=10**0.1, hint="a fraction of the light, not a percentage")


def density(transmittance: Numbers) -> Numbers:
    """Transmission density of a transmittance.

    Parameters
    ----------
    transmittance : fraction of the light let through, above 0; number or one axis

    Returns
    -------
    Density, shape of `transmittance`. Below 0 where more than all the light came through, as
    happens with a meter zeroed a little off; a transmittance above 1.26 is refused.

    Raises
    ------
    MeasureError : a transmittance is not finite, not above 0, or above 1.26 (a percentage)

    Notes
    -----
    D = -log10(T), [ISO5].

    Examples
    --------
    >>> density([1, 0.1, 0.001])
    [0.0, 1.0, 3.0]
    """
    return elementwise(
        lambda fraction: 0.0 - math.log10(fraction),  # 0 minus, or clear film would read -0.0
        argument(transmittance, "transmittance", TRANSMITTANCE),
    )


def transmittance(density: Numbers) -> Numbers:
    """Fraction of the light that a density lets through.

    Parameters
    ----------
    density : density; number or one axis

    Returns
    -------
    Fraction, shape of `density`; above 1 for a density below 0.

    Raises
    ------
    MeasureError : a density is not finite, or so far below 0 that no number can hold the result

    Notes
    -----
    T = 10^-D, [ISO5].

    Examples
    --------
    >>> transmittance(2)
    0.01
    """
    return elementwise(_let_through, argument(density, "density"))


def net_density(density: Numbers, base: Numbers | float) -> Numbers:
    """Density over the clear film, as every limit and every dot area needs it.

    Parameters
    ----------
    density : density as read, the meter zeroed on air; number or one axis
    base : density of the clear film, read the same way; one number, or one entry a density

    Returns
    -------
    Net density, shape of `density`. Below 0 where a patch is lighter than the clear film:
    then the clear film was read on the wrong spot.

    Raises
    ------
    MeasureError : a density is not finite, or the two axes differ in length

    Notes
    -----
    Densities of stacked layers add, so the film's own is taken off by subtraction, [ISO5].

    Examples
    --------
    >>> net_density([0.25, 3.0], 0.25)
    [0.0, 2.75]
    """
    return elementwise(
        lambda read, clear: read - clear, argument(density, "density"), argument(base, "base")
    )


def dot_area(tint: Numbers, solid: float, *, reading: Reading, n: float = 1.0) -> Numbers:
    """Fraction of a tint that prints, from its net density and that of the solid.

    Parameters
    ----------
    tint : net density of the tint; number or one axis
    solid : net density of the solid, above 0
    reading : "negative", the clear area prints; "positive", the black area prints
    n : spread factor, dimensionless, at least 1. 1 is plain area, right for film in contact;
        larger values correct for light that scatters under the dots (paper: 1.4 to 2)

    Returns
    -------
    Fraction, shape of `tint`. Not clipped: a tint denser than the solid, or lighter than the
    clear film, falls outside 0 to 1, and a check can say so.

    Raises
    ------
    MeasureError : `solid` is not above 0, `n` is below 1, a density is not finite, `reading` is
        neither word, or the numbers lie too far apart for a finite result

    Notes
    -----
    black = (1 - 10^(-tint/n)) / (1 - 10^(-solid/n)), [M36]; n, [YN51]. A negative prints
    1 - black.

    Examples
    --------
    >>> [round(part, 4) for part in dot_area([0.0, 0.30, 2.90], 2.90, reading="negative")]
    [1.0, 0.5006, 0.0]
    >>> round(dot_area(0.301, 4.0, reading="positive"), 4)
    0.5
    """
    choice(reading, "reading", ("negative", "positive"))
    spread = number(n, "n", Range(at_least=1.0))
    full = _absorbed(number(solid, "solid", POSITIVE) / spread)

    def printing(net: float) -> float:
        black = _absorbed(net / spread) / full
        return black if reading == "positive" else 1.0 - black

    return elementwise(printing, argument(tint, "tint"))


def dot_uncertainty(
    tint: Numbers,
    solid: float,
    *,
    u_tint: Numbers | float,
    u_solid: float,
    reading: Reading,
) -> Numbers:
    """Uncertainty (standard, k = 1) of a dot area worked out from two net densities.

    Parameters
    ----------
    tint : net density of the tint; number or one axis
    solid : net density of the solid, above 0
    u_tint : standard uncertainty (k = 1) of the net density of the tint, at least 0; one
        number, or one entry a tint
    u_solid : standard uncertainty (k = 1) of the net density of the solid, at least 0
    reading : "negative" or "positive"; the uncertainty is the same, since one area is what the
        other leaves

    Returns
    -------
    Standard uncertainty as a fraction of the whole area (0.01 is one point of dot), shape of
    `tint`. An expanded uncertainty is this times its coverage factor.

    Raises
    ------
    MeasureError : `solid` is not above 0, an uncertainty is below 0, a number is not finite,
        `reading` is neither word, or the two axes differ in length

    Notes
    -----
    First-order propagation, [GUM], with n = 1 and B = 1 - 10^-solid:

        da/dtint = ln 10 · 10^-tint / B,  da/dsolid = -ln 10 · a · 10^-solid / B

    The two readings are taken as independent. Errors that one meter makes alike in both partly
    cancel at the dark end and not at all at the light end; this is then on the safe side.

    Examples
    --------
    A meter good to 0.02 (expanded, k = 2) moves a 50 % tint by more than two points:

    >>> u = dot_uncertainty(0.30, 2.90, u_tint=0.01, u_solid=0.01, reading="negative")
    >>> round(2 * 100 * u, 2)
    2.31
    """
    choice(reading, "reading", ("negative", "positive"))
    solid_density = number(solid, "solid", POSITIVE)
    solid_u = number(u_solid, "u_solid", NOT_NEGATIVE)
    full = _absorbed(solid_density)

    def propagated(net: float, net_u: float) -> float:
        area = _absorbed(net) / full
        from_tint = LN10 * _let_through(net) / full * net_u
        from_solid = LN10 * area * _let_through(solid_density) / full * solid_u
        return math.hypot(from_tint, from_solid)

    return elementwise(propagated, argument(tint, "tint"), argument(u_tint, "u_tint", NOT_NEGATIVE))


def _let_through(density: float) -> float:
    return math.pow(10.0, -density)


def _absorbed(density: float) -> float:
    """Return 1 - 10^-density without the loss of digits where the density is near 0."""
    return -math.expm1(-LN10 * density)
