import pytest

from gatekeeper.show.odds import doubt_of, odds_of
from gatekeeper.verdict import Finding, Outcome


def finding(uncertainty=None, probability=None, unit="density"):
    return Finding(
        "x", "x.min", Outcome.PASS, "so", unit=unit,
        uncertainty=uncertainty, probability=probability,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("probability", "shown"),
    [
        (None, ""),
        (float("nan"), ""),
        (0.5, "50.0 %"),
        (0.97725, "97.7 %"),
        (0.9991, "over 99.9 %"),
        (1.0, "over 99.9 %"),
        (0.0009, "under 0.1 %"),
        (0.0, "under 0.1 %"),
    ],
)
def test_odds_are_shown_in_percent_and_never_as_certain(probability, shown):
    assert odds_of(finding(probability=probability)) == shown


@pytest.mark.parametrize(
    ("uncertainty", "unit", "shown"),
    [
        (None, "density", ""),
        (float("inf"), "density", ""),
        (0.02, "density", "+/- 0.02 density (k = 2)"),
        (2.31, "percent", "+/- 2.31 % (k = 2)"),
        (0.05, "mm", "+/- 0.05 mm (k = 2)"),
    ],
)
def test_doubt_is_shown_with_its_unit_and_coverage(uncertainty, unit, shown):
    assert doubt_of(finding(uncertainty=uncertainty, unit=unit)) == shown
