"""Lengths on film: plate wrap, shrink, climate, and how far a length may be off.

Units    lengths: mm; temperatures: degrees Celsius; humidity: percent relative humidity;
         coefficients: fraction of the length for one degree or one percent.
Shapes   one number or one axis; of several arguments, single numbers serve every entry.
Sources  plate wrap: common practice; growth: definition of the coefficients, which are measured
         by ISO 18903:2011 (scope opened).
Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

import math

from gatekeeper.measures.arguments import (
    NOT_NEGATIVE,
    POSITIVE,
    Argument,
    Numbers,
    Range,
    argument,
    elementwise,
    require_above,
)

# Polyester film grows by some 2e-5 for a degree and 1e-5 for a percent, acetate by a few times
# that. A data sheet's 0.0018 (percent) entered as it stands would be a hundred times too much.
COEFFICIENT = Range(at_least=-5e-4, at_most=5e-4, hint="a fraction, not a percentage")
PERCENT_STEP = Range(at_least=-100.0, at_most=100.0, hint="a change in percent humidity")
SHRINK_PERCENT = Range(at_least=-10.0, at_most=10.0, hint="in percent of the length")


def k_factor(plate_mm: Numbers, base_mm: Numbers | float) -> Numbers:
    """Length by which a plate's face outgrows its base in one turn round the cylinder.

    Parameters
    ----------
    plate_mm : thickness of the whole plate, mm, above `base_mm`; number or one axis
    base_mm : thickness of the base that does not stretch, mm, at least 0 (0 counts the whole
        plate); one number, or one entry a plate

    Returns
    -------
    K, mm, shape of `plate_mm`. A K means nothing without the base it was worked out with.

    Raises
    ------
    MeasureError : a thickness is not finite, `base_mm` is below 0, or `plate_mm` not above it

    Notes
    -----
    K = 2 pi (plate - base), common practice: what wraps is a ring whose inner length stays.

    Examples
    --------
    >>> round(k_factor(1.7, 0.175), 6)
    9.581858
    """
    plate: Argument[Numbers] = argument(plate_mm, "plate_mm", POSITIVE)
    base: Argument[Numbers] = argument(base_mm, "base_mm", NOT_NEGATIVE)
    require_above(plate, base)
    return elementwise(lambda whole, still: math.tau * (whole - still), plate, base)


def distorted_length(
    length_mm: Numbers, k_mm: Numbers | float, repeat_mm: Numbers | float
) -> Numbers:
    """Length on film round the cylinder that prints as the length wanted.

    Parameters
    ----------
    length_mm : length wanted in print, mm, at least 0; number or one axis
    k_mm : K of the plate, mm, at least 0; one number, or one entry a length
    repeat_mm : circumference at the printing surface, mm, above `k_mm`; likewise

    Returns
    -------
    Length on film, mm, shape of `length_mm`. Lengths across the cylinder do not change.

    Raises
    ------
    MeasureError : a length is not finite or below 0, or `repeat_mm` is not above `k_mm`

    Notes
    -----
    length (1 - K / repeat), common practice.

    Examples
    --------
    >>> round(distorted_length(500, 9.581858, 500), 3)
    490.418
    """
    length: Argument[Numbers] = argument(length_mm, "length_mm", NOT_NEGATIVE)
    k: Argument[Numbers] = argument(k_mm, "k_mm", NOT_NEGATIVE)
    repeat: Argument[Numbers] = argument(repeat_mm, "repeat_mm", POSITIVE)
    require_above(repeat, k)
    return elementwise(lambda wanted, wrap, turn: wanted * (1.0 - wrap / turn), length, k, repeat)


def shrunk_length(length_mm: Numbers, shrink_percent: Numbers | float) -> Numbers:
    """Length on film after an entered shrink, as for a plate or film that grows in process.

    Parameters
    ----------
    length_mm : length before, mm, at least 0; number or one axis
    shrink_percent : shrink, percent of the length, -10 to 10; below 0 it is a stretch

    Returns
    -------
    Length, mm, shape of `length_mm`.

    Raises
    ------
    MeasureError : an argument is not finite or not in its range

    Notes
    -----
    length (1 - shrink / 100), definition.

    Examples
    --------
    >>> shrunk_length(600, 0.5)
    597.0
    """
    return elementwise(
        lambda before, shrink: before * (1.0 - shrink / 100.0),
        argument(length_mm, "length_mm", NOT_NEGATIVE),
        argument(shrink_percent, "shrink_percent", SHRINK_PERCENT),
    )


def film_growth(
    length_mm: Numbers,
    *,
    delta_c: Numbers | float,
    delta_rh: Numbers | float,
    per_c: float,
    per_rh: float,
) -> Numbers:
    """Growth of film from one climate to another.

    Parameters
    ----------
    length_mm : length in the first climate, mm, at least 0; number or one axis
    delta_c : rise in temperature, degrees Celsius; one number, or one entry a length
    delta_rh : rise in relative humidity, percent, -100 to 100; likewise
    per_c : thermal coefficient, fraction of the length for one degree, within 5e-4
    per_rh : humidity coefficient, fraction of the length for one percent, within 5e-4

    Returns
    -------
    Growth, mm, shape of `length_mm`; below 0 the film has shrunk.

    Raises
    ------
    MeasureError : an argument is not finite or not in its range

    Notes
    -----
    length (per_c · delta_c + per_rh · delta_rh), definition of the coefficients. Holds when the
    film has had time to follow: hours for the base, minutes for a coating.

    Examples
    --------
    >>> growth = film_growth(600, delta_c=4, delta_rh=10, per_c=1.7e-5, per_rh=8e-6)
    >>> round(growth, 4)
    0.0888
    """
    thermal: Argument[Numbers] = argument(per_c, "per_c", COEFFICIENT)
    humid: Argument[Numbers] = argument(per_rh, "per_rh", COEFFICIENT)
    return elementwise(
        lambda length, warmer, damper, by_c, by_rh: length * (by_c * warmer + by_rh * damper),
        argument(length_mm, "length_mm", NOT_NEGATIVE),
        argument(delta_c, "delta_c"),
        argument(delta_rh, "delta_rh", PERCENT_STEP),
        thermal,
        humid,
    )


def length_tolerance(length_mm: Numbers, *, fixed_mm: float, per_mille: float) -> Numbers:
    """How far a length may be off, either way: so much at any length and so much of the length.

    Parameters
    ----------
    length_mm : expected length, mm, at least 0; number or one axis
    fixed_mm : part that does not grow with the length, mm, at least 0
    per_mille : part of the length, in thousandths of it, at least 0

    Returns
    -------
    Tolerance, mm, shape of `length_mm`, to be taken on either side.

    Raises
    ------
    MeasureError : an argument is not finite or is below 0

    Notes
    -----
    fixed + length · per mille / 1000, common practice.

    Examples
    --------
    >>> length_tolerance(600, fixed_mm=0.1, per_mille=0.25)
    0.25
    """
    fixed: Argument[Numbers] = argument(fixed_mm, "fixed_mm", NOT_NEGATIVE)
    share: Argument[Numbers] = argument(per_mille, "per_mille", NOT_NEGATIVE)
    return elementwise(
        lambda length, always, thousandths: always + length * thousandths / 1000.0,
        argument(length_mm, "length_mm", NOT_NEGATIVE),
        fixed,
        share,
    )
