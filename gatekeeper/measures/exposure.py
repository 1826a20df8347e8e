"""What a negative's solid lets through, and what that means for the exposure of the plate.

Units    densities: net, log10; doses: mJ/cm2 at the plate's surface; irradiance: mW/cm2; times:
         seconds; margins: stops, factors of two.
Shapes   one number or one axis, unless a function says it takes single numbers.
Sources  follows from the definition of density, ISO 5-1:2009, and of radiant exposure; the two
         doses that bound a plate are common practice (step and detail tests of the plate).
Errors   `MeasureError`, naming the argument and the first offending index.

**A visual density is not a UV density.** Everything here holds for the density in the light that
hardens the plate (UV, near 365 nm). Most meters read visually, as the eye would. Silver film
happens to be much alike in both; ink film is not, and its visual density says little about what
the ink holds back in the UV. Use a reading taken with a UV filter, or a workflow whose limit was
found by exposing plates, and let the rule require the meter's filter.

The two doses come from the plate supplier's sheet, or from a test with the plate, lamp and
washout in use. Both count the main exposure only: where the plate is exposed through the back
first, the floor dose is what the floor then still bears from the front. A dose worked out here is
a figure to check with, not a setting for a lamp.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gatekeeper.measures.arguments import FINITE, Numbers, Range, argument, elementwise, number

STOP = math.log10(2.0)
"""Density that halves the light."""

# No film holds back more than some six decades, and no plate takes kilojoules: what lies far
# outside is a percentage or another unit, and would otherwise give a comfortable margin.
NET_DENSITY = Range(at_least=0.0, at_most=20.0, hint="a net density, not a percentage")
DOSE = Range(above=0.0, at_most=1e9, hint="in mJ/cm2")


@dataclass(frozen=True)
class ExposureWindow:
    """Main exposures, in mJ/cm2, that hold the detail and leave the floor soft.

    `lower_mj_cm2` holds the finest detail, at `upper_mj_cm2` the light through the solid begins
    to harden the floor. A window that is not open has no exposure that does both.
    """

    lower_mj_cm2: float
    upper_mj_cm2: float

    @property
    def is_open(self) -> bool:
        """Whether any exposure lies inside."""
        return self.lower_mj_cm2 < self.upper_mj_cm2

    @property
    def stops(self) -> float:
        """Width in stops; below 0 by as much as is lacking."""
        return math.log2(self.upper_mj_cm2 / self.lower_mj_cm2)

    @property
    def middle_mj_cm2(self) -> float:
        """Exposure with as many stops to spare on either side."""
        return math.sqrt(self.lower_mj_cm2) * math.sqrt(self.upper_mj_cm2)

    def holds(self, main_exposure_mj_cm2: float) -> bool:
        """Whether a main exposure lies inside; at the upper end the floor begins to harden."""
        exposure = number(main_exposure_mj_cm2, "main_exposure_mj_cm2", DOSE)
        return self.lower_mj_cm2 <= exposure < self.upper_mj_cm2


def leak_fraction(net_density: Numbers) -> Numbers:
    """Fraction of the light on clear film that comes through a solid.

    Parameters
    ----------
    net_density : net density of the solid, 0 to 20, in the light of the lamp; number or one axis

    Returns
    -------
    Fraction, shape of `net_density`.

    Raises
    ------
    MeasureError : a density is not finite, below 0, or above 20 (a percentage)

    Notes
    -----
    10^-D, definition of density. For a visual density this is not the leak of UV light.

    Examples
    --------
    >>> leak_fraction([2, 3])
    [0.01, 0.001]
    """
    return elementwise(
        lambda net: math.pow(10.0, -net), argument(net_density, "net_density", NET_DENSITY)
    )


def dose_mj_cm2(irradiance_mw_cm2: Numbers, time_s: Numbers | float) -> Numbers:
    """Dose that a lamp gives in a time.

    Parameters
    ----------
    irradiance_mw_cm2 : irradiance at the plate, mW/cm2, at least 0; number or one axis
    time_s : exposure time, seconds, at least 0; one number, or one entry an irradiance

    Returns
    -------
    Dose, mJ/cm2, shape of `irradiance_mw_cm2`.

    Raises
    ------
    MeasureError : an argument is not finite or is below 0, or the two axes differ in length

    Notes
    -----
    Irradiance times time, definition of radiant exposure. The radiometer must read the band that
    the plate's data were given for.

    Examples
    --------
    >>> dose_mj_cm2(20, 100)
    2000.0
    """
    at_least_none = Range(at_least=0.0)
    return elementwise(
        lambda irradiance, time: irradiance * time,
        argument(irradiance_mw_cm2, "irradiance_mw_cm2", at_least_none),
        argument(time_s, "time_s", at_least_none),
    )


def exposure_window(
    net_density: float, *, floor_dose_mj_cm2: float, detail_dose_mj_cm2: float
) -> ExposureWindow:
    """Find the main exposures between holding the finest detail and hardening the floor.

    Parameters
    ----------
    net_density : lowest net density of the solid, 0 to 20, in the light of the lamp
    floor_dose_mj_cm2 : dose that first hardens the floor, mJ/cm2, above 0
    detail_dose_mj_cm2 : dose that holds the finest detail, mJ/cm2, above 0

    Returns
    -------
    `ExposureWindow` with `.lower_mj_cm2`, `.upper_mj_cm2`, `.stops`, `.middle_mj_cm2`,
    `.is_open` and `.holds(exposure)`.

    Raises
    ------
    MeasureError : an argument is not one finite number in its range

    Notes
    -----
    Through clear film the plate gets the whole exposure E, under the solid E · 10^-D; so E runs
    from the detail dose to the floor dose times 10^D. Definition of density. For a visual
    density the upper end is not what the plate will show.

    Examples
    --------
    >>> window = exposure_window(3.0, floor_dose_mj_cm2=10, detail_dose_mj_cm2=1250)
    >>> window.lower_mj_cm2, round(window.upper_mj_cm2), round(window.stops, 6)
    (1250.0, 10000, 3.0)
    """
    floor = number(floor_dose_mj_cm2, "floor_dose_mj_cm2", DOSE)
    detail = number(detail_dose_mj_cm2, "detail_dose_mj_cm2", DOSE)
    net = number(net_density, "net_density", NET_DENSITY)
    return ExposureWindow(lower_mj_cm2=detail, upper_mj_cm2=floor * math.pow(10.0, net))


def margin_stops(
    net_density: Numbers, *, main_exposure_mj_cm2: float, floor_dose_mj_cm2: float
) -> Numbers:
    """Count the stops that the main exposure stays below hardening the floor under the solid.

    Parameters
    ----------
    net_density : net density of the solid, 0 to 20, in the light of the lamp; number or one axis
    main_exposure_mj_cm2 : main exposure on clear film, mJ/cm2, above 0
    floor_dose_mj_cm2 : dose that first hardens the floor, mJ/cm2, above 0

    Returns
    -------
    Stops, shape of `net_density`. Below 0 the floor hardens.

    Raises
    ------
    MeasureError : an argument is not finite or not in its range

    Notes
    -----
    log2(floor dose / (E · 10^-D)), definition of density. For a visual density this is not the
    margin that the plate has.

    Examples
    --------
    >>> round(margin_stops(3.0, main_exposure_mj_cm2=2500, floor_dose_mj_cm2=10), 6)
    2.0
    """
    exposure = number(main_exposure_mj_cm2, "main_exposure_mj_cm2", DOSE)
    floor = number(floor_dose_mj_cm2, "floor_dose_mj_cm2", DOSE)
    without_film = math.log2(floor / exposure)
    return elementwise(
        lambda net: net / STOP + without_film, argument(net_density, "net_density", NET_DENSITY)
    )


def density_needed(
    *,
    main_exposure_mj_cm2: Numbers,
    floor_dose_mj_cm2: float,
    margin_stops: float = 0.0,
) -> Numbers:
    """Net density of the solid that keeps the floor soft under a main exposure.

    Parameters
    ----------
    main_exposure_mj_cm2 : main exposure on clear film, mJ/cm2, above 0; number or one axis
    floor_dose_mj_cm2 : dose that first hardens the floor, mJ/cm2, above 0
    margin_stops : stops to spare, finite

    Returns
    -------
    Net density in the light of the lamp, shape of `main_exposure_mj_cm2`; 0 where even clear
    film would leave the floor soft.

    Raises
    ------
    MeasureError : an argument is not finite or not in its range

    Notes
    -----
    log10(E / floor dose) + margin · log10 2, definition of density. A visual limit must be found
    by exposing plates, not from this figure.

    Examples
    --------
    >>> needed = density_needed(
    ...     main_exposure_mj_cm2=2500, floor_dose_mj_cm2=10, margin_stops=1
    ... )
    >>> round(needed, 3)
    2.699
    """
    floor = number(floor_dose_mj_cm2, "floor_dose_mj_cm2", DOSE)
    spare = number(margin_stops, "margin_stops", FINITE) * STOP
    return elementwise(
        lambda exposure: max(0.0, math.log10(exposure / floor) + spare),
        argument(main_exposure_mj_cm2, "main_exposure_mj_cm2", DOSE),
    )
