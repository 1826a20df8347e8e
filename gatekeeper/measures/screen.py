"""Halftone screens and the units that film is described in.

Units    rulings: lines per inch (lpi) or per centimetre; resolutions: dots per inch (dpi);
         lengths: mm, mil (a thousandth of an inch), inch, typographic point (1/72 inch).
Shapes   one number or one axis; of several arguments, single numbers serve every entry.
Sources  [12647-9] ISO 12647-9:2021, 4.2.2 and 4.2.3 (read in a transcription); the inch of
         25.4 mm by definition; the point of PostScript and ISO 32000 (from memory).
Errors   `MeasureError`, naming the argument and the first offending index.
"""

from __future__ import annotations

from gatekeeper.measures.arguments import (
    NOT_NEGATIVE,
    POSITIVE,
    Argument,
    Numbers,
    argument,
    elementwise,
    require_above,
)

MM_PER_INCH = 25.4
CM_PER_INCH = 2.54
MIL_PER_INCH = 1000.0
POINTS_PER_INCH = 72.0


def grey_levels(dpi: Numbers | float, lpi: Numbers | float) -> Numbers:
    """Tone steps that one halftone cell can show.

    Parameters
    ----------
    dpi : resolution of the printer, dots per inch, above `lpi`; number or one axis
    lpi : screen ruling, lines per inch, above 0; number or one axis

    Returns
    -------
    Number of steps, the empty and the full cell included. Not rounded: a cell need not be a
    whole number of dots wide, since neighbouring cells may differ.

    Raises
    ------
    MeasureError : `lpi` is not above 0, or `dpi` is not above `lpi`

    Notes
    -----
    (dpi / lpi)^2 + 1, [12647-9] and common practice. A printer whose dots overlap shows fewer.

    Examples
    --------
    >>> grey_levels(2400, 150)
    257.0
    """
    return elementwise(lambda fine, coarse: (fine / coarse) ** 2 + 1.0, *_screen(dpi, lpi))


def smallest_dot_percent(dpi: Numbers | float, lpi: Numbers | float) -> Numbers:
    """Smallest tint above nothing that resolution and ruling can hold: one printer dot a cell.

    Parameters
    ----------
    dpi : resolution of the printer, dots per inch, above `lpi`; number or one axis
    lpi : screen ruling, lines per inch, above 0; number or one axis

    Returns
    -------
    Percent of the area. The largest tint below solid lies as far under 100.

    Raises
    ------
    MeasureError : `lpi` is not above 0, or `dpi` is not above `lpi`

    Notes
    -----
    100 (lpi / dpi)^2, from the cell of [12647-9]. What the film prints and the plate holds is
    usually larger: an ink dot is bigger than its share of the cell.

    Examples
    --------
    >>> smallest_dot_percent(2400, 150)
    0.390625
    """
    return elementwise(lambda fine, coarse: 100.0 * (coarse / fine) ** 2, *_screen(dpi, lpi))


def lpi_to_lpcm(lpi: Numbers) -> Numbers:
    """Screen ruling in lines per centimetre; the same serves dots per inch.

    Parameters
    ----------
    lpi : lines per inch, above 0; number or one axis

    Returns
    -------
    Lines per centimetre, shape of `lpi`.

    Raises
    ------
    MeasureError : a ruling is not above 0

    Notes
    -----
    One inch is 2.54 cm, [12647-9].

    Examples
    --------
    >>> round(lpi_to_lpcm(175), 1)
    68.9
    """
    return elementwise(lambda ruling: ruling / CM_PER_INCH, argument(lpi, "lpi", POSITIVE))


def lpcm_to_lpi(lpcm: Numbers) -> Numbers:
    """Screen ruling in lines per inch; the same serves dots per centimetre.

    Parameters
    ----------
    lpcm : lines per centimetre, above 0; number or one axis

    Returns
    -------
    Lines per inch, shape of `lpcm`.

    Raises
    ------
    MeasureError : a ruling is not above 0

    Notes
    -----
    One inch is 2.54 cm, [12647-9].

    Examples
    --------
    >>> round(lpcm_to_lpi(100), 6)
    254.0
    """
    return elementwise(lambda ruling: ruling * CM_PER_INCH, argument(lpcm, "lpcm", POSITIVE))


def points_to_mm(points: Numbers) -> Numbers:
    """Type size in millimetres.

    Parameters
    ----------
    points : typographic points of 1/72 inch, at least 0; number or one axis

    Returns
    -------
    Millimetres, shape of `points`.

    Raises
    ------
    MeasureError : a size is below 0

    Notes
    -----
    The desktop publishing point; the older printer's point is 0.4 % smaller.

    Examples
    --------
    >>> round(points_to_mm(6), 4)
    2.1167
    """
    return elementwise(
        lambda size: size * MM_PER_INCH / POINTS_PER_INCH, argument(points, "points", NOT_NEGATIVE)
    )


def mil_to_mm(mil: Numbers) -> Numbers:
    """Film thickness in millimetres.

    Parameters
    ----------
    mil : thousandths of an inch, at least 0; number or one axis

    Returns
    -------
    Millimetres, shape of `mil`.

    Raises
    ------
    MeasureError : a thickness is below 0

    Notes
    -----
    One inch is 25.4 mm by definition.

    Examples
    --------
    >>> mil_to_mm([5, 8])
    [0.127, 0.2032]
    """
    return elementwise(
        lambda thickness: thickness * MM_PER_INCH / MIL_PER_INCH,
        argument(mil, "mil", NOT_NEGATIVE),
    )


def inch_to_mm(inch: Numbers) -> Numbers:
    """Length in millimetres.

    Parameters
    ----------
    inch : inches, at least 0; number or one axis

    Returns
    -------
    Millimetres, shape of `inch`.

    Raises
    ------
    MeasureError : a length is below 0

    Notes
    -----
    One inch is 25.4 mm by definition.

    Examples
    --------
    >>> inch_to_mm(10)
    254.0
    """
    return elementwise(lambda length: length * MM_PER_INCH, argument(inch, "inch", NOT_NEGATIVE))


def _screen(
    dpi: Numbers | float, lpi: Numbers | float
) -> tuple[Argument[Numbers], Argument[Numbers]]:
    fine: Argument[Numbers] = argument(dpi, "dpi", POSITIVE)
    coarse: Argument[Numbers] = argument(lpi, "lpi", POSITIVE)
    require_above(fine, coarse)
    return fine, coarse
