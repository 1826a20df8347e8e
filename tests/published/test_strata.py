"""The pooled comparison of rooms against published tables and a library of reference."""

import math

import pytest
from scipy import stats

from gatekeeper.measures.errors import MeasureError
from gatekeeper.measures.strata import stratified_excess

# Admissions to six departments at Berkeley, fall 1973: (men admitted, men, women admitted, women).
# Bickel, Hammel, O'Connell, Science 187, 1975, as in R's data set UCBAdmissions (from memory).
BERKELEY = [
    (512, 825, 89, 108), (353, 560, 17, 25), (120, 325, 202, 593), (138, 417, 131, 375),
    (53, 191, 94, 393), (22, 373, 24, 341),
]  # fmt: skip

# Penicillin in rabbits, (cured at once, treated at once, cured late, treated late) by dose:
# Agresti, Categorical Data Analysis, 1990; R's help of mantelhaen.test: p = 0.047 (from memory).
RABBITS = [(0, 6, 0, 5), (3, 6, 0, 6), (6, 6, 2, 6), (5, 6, 6, 6), (2, 2, 5, 5)]


def test_rabbits_are_significant_as_published():
    found = stratified_excess(RABBITS)
    two_sided = stats.chi2.sf(found.statistic, 1)
    assert two_sided == pytest.approx(0.047, abs=0.0005)
    assert found.p_more == pytest.approx(two_sided / 2, rel=1e-9)


def test_the_common_odds_ratio_of_berkeley_is_as_published():
    # mantelhaen.test(UCBAdmissions) in R: common odds ratio 0.9046968 (from memory).
    assert stratified_excess(BERKELEY).odds_ratio == pytest.approx(0.9046968, abs=5e-8)


@pytest.mark.parametrize("place", [(6, 10, 2, 40), (30, 120, 18, 100), (1, 5, 1, 5)])
def test_one_place_is_pearsons_chi_square_but_for_the_finite_sample(place):
    # For one table, CMH is (N - 1)/N of Pearson's chi-square; SciPy's, without correction.
    failed, whole, others_failed, others_whole = place
    table = [[failed, whole - failed], [others_failed, others_whole - others_failed]]
    pearson = stats.chi2_contingency(table, correction=False).statistic
    total = whole + others_whole
    found = stratified_excess([place])
    gap = found.observed - found.expected
    variance = (gap / math.sqrt(pearson * (total - 1) / total)) ** 2 if gap else None
    if variance:
        assert found.statistic == pytest.approx(max(abs(gap) - 0.5, 0) ** 2 / variance, rel=1e-9)


def test_places_pool_as_signed_sums_and_not_as_one_table():
    # Simpson's paradox: in each place as good as the others, poured together it is not.
    places = [(45, 90, 5, 10), (1, 10, 9, 90)]
    assert stratified_excess(places).p_more > 0.4
    poured = [tuple(map(sum, zip(*places, strict=True)))]
    assert stratified_excess(poured).p_more < 1e-6


@pytest.mark.parametrize(
    "places", [[], [(0, 5, 0, 5)], [(5, 5, 5, 5)], [(2, 5, 0, 0)], [(1, 1, 0, 0)]]
)
def test_places_that_cannot_tell_say_nothing(places):
    assert stratified_excess(places) is None


@pytest.mark.parametrize("place", [(6, 5, 0, 1), (-1, 5, 0, 1), (0, 5, 2, 1)])
def test_counts_beyond_their_whole_are_refused(place):
    with pytest.raises(MeasureError, match="at index 1"):
        stratified_excess([(1, 2, 1, 2), place])
