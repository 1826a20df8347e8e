"""Films are recognised by their digits, in whatever file they come, and by nothing else."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Bound, Negative, Number, Patch, PatchKind, Text


def number(value, bound=Bound.EXACT, written=""):
    return Number(value, written or str(value), bound=bound)


def solid(value, where="", **changes):
    return Patch(PatchKind.SOLID, density=number(value), where=where, **changes)


def tint(dot, nominal=50.0):
    return Patch(PatchKind.TINT, nominal=number(nominal), dot_percent=number(dot))


def mark(length, nominal=600.0):
    return Patch(PatchKind.LENGTH, number(nominal), length_mm=number(length), where="around")


CLEAR = Patch(PatchKind.CLEAR, density=number(0.0), where="left")
PATCHES = (
    CLEAR, solid(2.91, "left"), solid(2.88, "centre"), solid(2.9, "right"), tint(50.8), mark(598.93)
)  # fmt: skip
FILM = Negative(job=Text("1041"), patches=PATCHES)


def film(*patches, **head):
    return Negative(patches=patches, **head)


def test_the_head_of_a_sheet_and_the_order_of_its_rows_do_not_count():
    another = film(
        *reversed(PATCHES), job=Text("1042"), operator=Text("AO"), separation=Text("red")
    )
    assert digits_of(another) == digits_of(FILM)


@pytest.mark.parametrize(
    "same",
    [
        solid(2.9, " RIGHT "),
        replace(solid(2.9, "right"), name="S3"),
        Patch(PatchKind.SOLID, density=number(2.9, written="2,90"), where="right"),
        solid(2.9000000000000004, "right"),
    ],
)
def test_how_a_reading_is_spelt_does_not_count(same):
    assert digits_of(film(*PATCHES[:3], same, *PATCHES[4:])) == digits_of(FILM)


@pytest.mark.parametrize(
    "other",
    [
        solid(2.901, "right"),
        solid(2.9, "centre"),
        solid(2.9),
        tint(2.9),
        Patch(PatchKind.SOLID, density=number(2.9, Bound.AT_LEAST), where="right"),
        Patch(PatchKind.SOLID, dot_percent=number(2.9), where="right"),
        Patch(PatchKind.SOLID, nominal=number(100.0), density=number(2.9), where="right"),
    ],
)
def test_any_other_digit_place_kind_nominal_or_quantity_makes_another_film(other):
    assert digits_of(film(*PATCHES[:3], other, *PATCHES[4:])).sha256 != digits_of(FILM).sha256


def test_a_row_more_or_less_makes_another_film():
    known = {digits_of(FILM).sha256}
    known |= {digits_of(film(*PATCHES[:n], *PATCHES[n + 1 :])).sha256 for n in range(6)}
    known |= {digits_of(film(*PATCHES, patch)).sha256 for patch in PATCHES}
    assert len(known) == 13


def test_no_place_can_be_written_so_that_two_rows_pass_for_one():
    two = digits_of(film(solid(2.9, "a"), solid(2.8, "b")))
    forged = solid(2.8, "b||||\nsolid||a|2.9|||")
    assert digits_of(film(forged)).sha256 != two.sha256
    assert digits_of(film(solid(2.9, "a|2.9"))).sha256 != digits_of(film(solid(2.9, "a"))).sha256


@pytest.mark.parametrize(
    ("patches", "telling"),
    [
        (PATCHES, 5),
        ((CLEAR, CLEAR), 0),
        ((solid(2.9, "left"), solid(2.9, "right"), solid(2.91)), 2),  # no further witness
        ((tint(50.0), tint(50.8)), 1),  # read as asked for
        ((mark(600.0), mark(600.5)), 1),
        ((Patch(PatchKind.SOLID, density=number(4.5, Bound.AT_LEAST)),), 0),
        ((Patch(PatchKind.TINT, number(50.0), number(0.3), number(50.0)),), 1),
        ((Patch(PatchKind.TINT, number(50.0), number(0.3), number(50.8)),), 1),  # one patch
        ((Patch(PatchKind.SOLID),), 0),
        ((), 0),
    ],
)
def test_patches_that_tell_one_film_from_another_are_counted_once(patches, telling):
    found = digits_of(film(*patches))
    assert found.telling == telling
    assert bool(found.sha256) is bool(telling)


patches_of_film = st.lists(
    st.builds(
        solid,
        st.floats(0.01, 6.0).map(lambda value: round(value, 3)),
        st.sampled_from(["", "left", "right"]),
    )
    | st.builds(tint, st.integers(1, 999).map(lambda tenth: tenth / 10)),
    min_size=1,
    max_size=8,
)


@given(patches_of_film, st.randoms(use_true_random=False))
def test_films_have_equal_digits_just_when_their_rows_are_the_same(patches, chance):
    mixed = random.Random(chance.random()).sample(patches, len(patches))  # noqa: S311 -- no secret
    assert digits_of(film(*mixed)) == digits_of(film(*patches))
    changed = [*patches[:-1], replace(patches[-1], where="elsewhere")]
    assert digits_of(film(*changed)).sha256 != digits_of(film(*patches)).sha256


# -- the chance that the module's docstring names ----------------------------------------------

FILM_SD, SPOT_SD = 0.04, 0.02
SOLIDS = np.full((3, 3), FILM_SD**2) + np.eye(3) * SPOT_SD**2
STEPS = {"solid": 0.01, "dot": 0.1, "length": 0.01}
SPREADS = {"dot": 0.6, "length": 0.1}
FILMS_A_DAY, FILMS_TO_COMPARE = 40, 400


def chance_alike(*further):
    """The formula of the docstring, for three solids and further readings."""
    steps = [STEPS["solid"]] * 3 + [STEPS[name] for name in further]
    covariance = np.zeros((len(steps), len(steps)))
    covariance[:3, :3] = SOLIDS
    for place, name in enumerate(further, start=3):
        covariance[place, place] = SPREADS[name] ** 2
    pairs = (4 * math.pi) ** (len(steps) / 2) * math.sqrt(np.linalg.det(covariance))
    return math.prod(steps) / pairs


@pytest.mark.parametrize(
    ("further", "pairs", "days"),
    [
        ((), 1_300, 0.08),
        (("dot",), 27_000, 1.7),
        (("dot", "length"), 1_000_000, 60),
        (("dot", "length", "length"), 34_000_000, 2_200),
    ],
)
def test_chance_that_two_films_agree_is_what_the_docstring_says(further, pairs, days):
    chance = chance_alike(*further)
    assert 1 / chance == pytest.approx(pairs, rel=0.04)
    assert 1 / (chance * FILMS_A_DAY * FILMS_TO_COMPARE) == pytest.approx(days, rel=0.05)


def test_formula_is_the_density_of_the_difference_by_an_outside_library():
    """SciPy's multivariate normal; the difference of two independent films has covariance 2 S."""
    at_zero = stats.multivariate_normal(np.zeros(3), 2 * SOLIDS).pdf(np.zeros(3))
    assert chance_alike() == pytest.approx(at_zero * STEPS["solid"] ** 3, rel=1e-12)


def test_invented_films_coincide_as_often_as_the_formula_says():
    """200,000 films in steps of a meter: each pair that agrees is counted."""
    chance = np.random.default_rng(20261120)
    read = np.round(chance.multivariate_normal([2.9] * 3, SOLIDS, size=200_000), 2)
    dots = np.round(chance.normal(50.0, SPREADS["dot"], size=(200_000, 1)), 1)
    _, seen = np.unique(np.hstack([read, dots]), axis=0, return_counts=True)
    agree = (seen * (seen - 1) / 2).sum()
    assert agree / (200_000 * 199_999 / 2) == pytest.approx(chance_alike("dot"), rel=0.03)
