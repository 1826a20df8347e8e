"""Every public measure takes and refuses the same things, and names what it refuses."""

from __future__ import annotations

import inspect
import math
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from gatekeeper.measures import (
    density,
    distortion,
    exposure,
    film,
    regression,
    screen,
    uncertainty,
)
from gatekeeper.measures.arguments import (
    Range,
    argument,
    choice,
    count,
    elementwise,
    number,
    numbers,
)
from gatekeeper.measures.errors import MeasureError

MODULES = (density, distortion, exposure, film, regression, screen, uncertainty)

# One good call of every public function.
GOOD_CALLS = {
    density.density: {"transmittance": 0.5},
    density.transmittance: {"density": 0.3},
    density.net_density: {"density": 3.0, "base": 0.05},
    density.dot_area: {"tint": 0.3, "solid": 3.0, "reading": "negative", "n": 1.0},
    density.dot_uncertainty: {
        "tint": 0.3, "solid": 3.0, "u_tint": 0.01, "u_solid": 0.01, "reading": "negative",
    },
    distortion.k_factor: {"plate_mm": 1.7, "base_mm": 0.175},
    distortion.distorted_length: {"length_mm": 300.0, "k_mm": 9.6, "repeat_mm": 500.0},
    distortion.shrunk_length: {"length_mm": 300.0, "shrink_percent": 0.5},
    distortion.film_growth: {
        "length_mm": 300.0, "delta_c": 4.0, "delta_rh": 10.0, "per_c": 2e-5, "per_rh": 1e-5,
    },
    distortion.length_tolerance: {"length_mm": 300.0, "fixed_mm": 0.1, "per_mille": 0.2},
    exposure.leak_fraction: {"net_density": 3.0},
    exposure.dose_mj_cm2: {"irradiance_mw_cm2": 20.0, "time_s": 100.0},
    exposure.exposure_window: {
        "net_density": 3.0, "floor_dose_mj_cm2": 10.0, "detail_dose_mj_cm2": 900.0,
    },
    exposure.margin_stops: {
        "net_density": 3.0, "main_exposure_mj_cm2": 900.0, "floor_dose_mj_cm2": 10.0,
    },
    exposure.density_needed: {
        "main_exposure_mj_cm2": 900.0, "floor_dose_mj_cm2": 10.0, "margin_stops": 1.0,
    },
    film.spread: {"values": [2.9, 2.8]},
    film.density_range: {"solids": [2.9, 2.8], "clears": [0.04, 0.05]},
    film.not_rising: {"nominal_percent": [10.0, 50.0], "measured_percent": [11.0, 52.0]},
    regression.straight_line: {"x": [0.0, 1.0, 2.0], "y": [2.9, 2.8, 2.9]},
    screen.grey_levels: {"dpi": 1440.0, "lpi": 65.0},
    screen.smallest_dot_percent: {"dpi": 1440.0, "lpi": 65.0},
    screen.lpi_to_lpcm: {"lpi": 65.0},
    screen.lpcm_to_lpi: {"lpcm": 25.0},
    screen.points_to_mm: {"points": 6.0},
    screen.mil_to_mm: {"mil": 5.0},
    screen.inch_to_mm: {"inch": 24.0},
    uncertainty.combined_uncertainty: {"contributions": [3.0, 4.0]},
    uncertainty.conformance_probability: {"value": 2.8, "u": 0.01, "lower": 2.7, "upper": 4.0},
    uncertainty.acceptance_limits: {"lower": 2.7, "upper": 4.0, "expanded_u": 0.02, "guard": 1.0},
    uncertainty.capability_index: {"tolerance": 4.0, "u": 0.5},
    uncertainty.en_number: {
        "value": 3.0, "certified": 3.01, "expanded_u": 0.02, "expanded_u_certified": 0.01,
    },
}  # fmt: skip

NUMERIC = [
    (function, name)
    for function, given in GOOD_CALLS.items()
    for name, value in given.items()
    if name != "reading"
]
ELEMENTWISE = [
    (function, next(iter(given)))
    for function, given in GOOD_CALLS.items()
    if "Numbers" in str(inspect.signature(function).return_annotation)
]
NO_NUMBERS = [math.nan, math.inf, -math.inf, True, "0.5", b"0.5", 1j, {0.5}, object(), [[0.5]]]


def named(pairs):
    return [f"{function.__name__}-{name}" for function, name in pairs]


def test_every_public_function_is_in_the_list_of_good_calls():
    public = {
        thing
        for module in MODULES
        for name, thing in vars(module).items()
        if inspect.isfunction(thing)
        and thing.__module__ == module.__name__
        and not name.startswith("_")
    }
    assert public == set(GOOD_CALLS)


@pytest.mark.parametrize("function", GOOD_CALLS, ids=lambda function: function.__name__)
def test_good_call_gives_an_answer(function):
    assert function(**GOOD_CALLS[function]) is not None


@pytest.mark.parametrize("bad", NO_NUMBERS, ids=lambda bad: type(bad).__name__ + str(bad)[:4])
@pytest.mark.parametrize(("function", "name"), NUMERIC, ids=named(NUMERIC))
def test_what_is_no_finite_number_is_refused_by_name(function, name, bad):
    with pytest.raises(MeasureError) as caught:
        function(**GOOD_CALLS[function] | {name: bad})
    assert caught.value.argument == name


@pytest.mark.parametrize("bad", [math.nan, math.inf, True, "0.5", None, [0.5]])
@pytest.mark.parametrize(("function", "name"), NUMERIC, ids=named(NUMERIC))
def test_bad_entry_of_an_axis_is_refused_by_name(function, name, bad):
    given = GOOD_CALLS[function]
    good = given[name]
    series = [*good, bad] if isinstance(good, list) else [good, bad]
    with pytest.raises(MeasureError) as caught:
        function(**given | {name: series})
    assert caught.value.argument == name
    # Where one number is wanted, the list itself is what is wrong and no entry of it.
    assert caught.value.index in {len(series) - 1, None}


@pytest.mark.parametrize(("function", "name"), ELEMENTWISE, ids=named(ELEMENTWISE))
def test_first_bad_entry_is_named_by_its_index(function, name):
    given = GOOD_CALLS[function]
    with pytest.raises(MeasureError) as caught:
        function(**given | {name: [given[name], given[name], math.nan, math.nan]})
    assert (caught.value.argument, caught.value.index) == (name, 2)
    assert str(caught.value).startswith(f"{name}[2] ")


@pytest.mark.parametrize(("function", "name"), ELEMENTWISE, ids=named(ELEMENTWISE))
def test_number_list_tuple_and_array_give_the_same_in_their_own_kind(function, name):
    given = GOOD_CALLS[function]
    one = function(**given)
    assert type(one) is float
    three = [given[name]] * 3
    assert function(**given | {name: three}) == [one] * 3
    assert function(**given | {name: tuple(three)}) == [one] * 3
    array = function(**given | {name: np.array(three)})
    assert isinstance(array, np.ndarray)
    assert array.dtype == np.float64
    assert array.tolist() == [one] * 3
    assert type(function(**given | {name: np.array(given[name])})) is float
    assert function(**given | {name: []}) == []


@pytest.mark.parametrize(("function", "name"), ELEMENTWISE, ids=named(ELEMENTWISE))
def test_array_of_two_axes_is_refused(function, name):
    given = GOOD_CALLS[function]
    with pytest.raises(MeasureError, match=f"{name} has 2 axes"):
        function(**given | {name: np.full((2, 2), given[name])})


def test_every_real_number_is_taken():
    for half in (Fraction(1, 2), Decimal("0.5"), np.float32(0.5), np.float64(0.5)):
        assert density.density(half) == density.density(0.5)
    assert density.transmittance(np.int64(2)) == 0.01
    assert density.transmittance(range(3)) == [1.0, 0.1, 0.01]


@pytest.mark.parametrize("bad", [10**400, Decimal("sNaN"), Decimal("Infinity"), Fraction(10**400)])
def test_number_too_large_for_a_float_is_refused(bad):
    with pytest.raises(MeasureError, match=r"density is .* not a finite number"):
        density.transmittance(bad)


def test_array_of_truth_values_text_or_times_is_refused():
    for bad in (np.array([True]), np.array(["1"]), np.array(["2026-11-20"], dtype="datetime64[D]")):
        with pytest.raises(MeasureError, match=r"density\[0\] is .* not a number"):
            density.transmittance(bad)


def test_masked_reading_is_refused_and_not_taken_for_its_hidden_value():
    masked = np.ma.masked_array([0.3, 0.4], mask=[False, True])
    with pytest.raises(MeasureError, match=r"density\[1\] is None"):
        density.transmittance(masked)


def test_one_number_serves_every_entry_and_two_axes_go_side_by_side():
    assert density.net_density([1.0, 2.0], 0.5) == [0.5, 1.5]
    assert density.net_density([1.0, 2.0], [0.5, 0.25]) == [0.5, 1.75]
    assert screen.grey_levels(1600.0, [100.0, 160.0]) == [257.0, 101.0]
    assert isinstance(density.net_density([1.0, 2.0], np.array([0.5, 0.5])), np.ndarray)


def test_axes_of_different_length_are_refused():
    with pytest.raises(MeasureError, match=r"base has 3 numbers but density has 2"):
        density.net_density([1.0, 2.0], [0.1, 0.1, 0.1])


def test_result_that_no_float_can_hold_is_refused():
    with pytest.raises(MeasureError, match=r"density\[1\] is -400.0, which gives no finite result"):
        density.transmittance([0.0, -400.0])
    with pytest.raises(MeasureError, match=r"tint is 0.3, which gives no finite result"):
        density.dot_area(0.3, 5e-324, reading="negative", n=1e10)


def test_count_takes_whole_numbers_only():
    assert count(3.0, "steps") == 3
    with pytest.raises(MeasureError, match=r"steps is 2.5 but must be a whole number"):
        count(2.5, "steps")
    with pytest.raises(MeasureError, match=r"steps is 0.0 but must be at least 1"):
        count(0, "steps")


def test_number_and_numbers_do_not_stand_in_for_each_other():
    with pytest.raises(MeasureError, match=r"n must be one number, not several"):
        number([1.0], "n")
    with pytest.raises(MeasureError, match=r"values must be a list of numbers, not one number"):
        numbers(1.0, "values")
    with pytest.raises(MeasureError, match=r"values needs at least 2 numbers but has 1"):
        numbers([1.0], "values", fewest=2)


def test_choice_takes_the_word_and_nothing_like_it():
    assert choice("positive", "reading", ("negative", "positive")) == "positive"
    for bad in ("Negative", "", None, ["negative"], 1):
        with pytest.raises(MeasureError, match=r'but must be "negative" or "positive"'):
            choice(bad, "reading", ("negative", "positive"))


@pytest.mark.parametrize(
    ("within", "bad", "message"),
    [
        (Range(above=0.0), 0.0, "is 0.0 but must be above 0"),
        (Range(at_least=1.0), 0.99, "is 0.99 but must be at least 1"),
        (Range(at_most=100.0, hint="a percentage"), 100.5, "at most 100 (a percentage)"),
    ],
)
def test_range_says_its_bound_and_its_hint(within, bad, message):
    with pytest.raises(MeasureError) as caught:
        number(bad, "x", within)
    assert message in str(caught.value)


def test_long_or_hostile_text_is_cut_short_in_the_message():
    with pytest.raises(MeasureError) as caught:
        number("9\n" * 10_000, "x")
    assert len(str(caught.value)) < 100
    assert "\n" not in str(caught.value)


def test_elementwise_keeps_the_order_of_the_entries():
    backwards = elementwise(lambda a: -a, argument([3.0, 1.0, 2.0], "a"))
    assert backwards == [-3.0, -1.0, -2.0]


def test_measures_are_imported_without_numpy():
    script = (
        "import importlib, pkgutil, sys, gatekeeper.measures as m\n"
        "for each in pkgutil.iter_modules(m.__path__):\n"
        "    importlib.import_module(f'{m.__name__}.{each.name}')\n"
        "from gatekeeper.measures.density import density\n"
        "assert density([0.1]) == [1.0]\n"
        "sys.exit('numpy' in sys.modules or 'scipy' in sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True, timeout=30)  # noqa: S603
