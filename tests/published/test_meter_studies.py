"""Meter studies and standard deviations give printed and certified values.

Values: data/gauge_study.yaml with its rows, data/univariate.yaml.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path
from statistics import fmean

import pytest
import yaml

from gatekeeper.measures.chart import capability
from gatekeeper.measures.study import gauge_study, pooled_sd

DATA = Path(__file__).parent / "data"
STUDIES = yaml.safe_load((DATA / "gauge_study.yaml").read_text(encoding="utf-8"))
UNIVARIATE = yaml.safe_load((DATA / "univariate.yaml").read_text(encoding="utf-8"))
ANOVA = STUDIES["anova"]


def readings_of(case):
    if "values" in case:
        return case["values"]
    return [case["first"], *(case["then"] * case["times"])]


@pytest.fixture(scope="module")
def study():
    with (DATA / ANOVA["data"]).open(encoding="utf-8", newline="") as lines:
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        return gauge_study([(row["part"], row["operator"], float(row["value"])) for row in rows])


@pytest.mark.parametrize("field", ANOVA["mean_squares"])
def test_analysis_of_variance_has_the_printed_mean_squares(study, field):
    expected = pytest.approx(ANOVA["mean_squares"][field], abs=ANOVA["tolerance"]["abs"])
    assert getattr(study.mean_squares, field) == expected


@pytest.mark.parametrize("field", ANOVA["expect"])
def test_study_has_the_printed_standard_deviations(study, field):
    expected = pytest.approx(ANOVA["expect"][field], abs=ANOVA["tolerance"]["abs"])
    assert getattr(study, field) == expected


def test_study_has_the_printed_total_and_categories(study):
    tolerance = ANOVA["tolerance"]
    assert study.total_sd == pytest.approx(ANOVA["total_sd"], abs=tolerance["total_abs"])
    assert study.category_ratio == pytest.approx(
        ANOVA["category_ratio"], abs=tolerance["ratio_abs"]
    )
    assert study.distinct_categories == ANOVA["distinct_categories"]


def test_interaction_is_pooled_at_the_printed_significance(study):
    assert study.interaction_f == pytest.approx(ANOVA["interaction_f"], abs=5e-4)
    assert study.interaction_p == pytest.approx(ANOVA["interaction_p"], abs=5e-4)
    assert study.pooled


def test_days_pool_to_the_printed_standard_deviation():
    case = STUDIES["between_days"]
    for group, expected in zip(case["groups"], case["each"], strict=True):
        assert pooled_sd([group]) == pytest.approx(expected, abs=case["tolerance"]["abs"])
    assert pooled_sd(case["groups"]) == pytest.approx(case["expect"], abs=case["tolerance"]["abs"])


def test_instruments_pool_to_the_certified_sum_of_squares():
    case = STUDIES["silicon"]
    expected = math.sqrt(case["sum_of_squares"] / case["df"])
    assert pooled_sd(case["groups"]) == pytest.approx(expected, rel=case["tolerance"]["rel"])


@pytest.mark.parametrize("name", UNIVARIATE)
def test_standard_deviation_is_the_certified_one(name):
    case = UNIVARIATE[name]
    readings = readings_of(case)
    expected = pytest.approx(case["sd"], rel=case["tolerance"]["rel"])
    assert pooled_sd([readings]) == expected
    result = capability(readings, lower=0, upper=2 * max(readings))
    assert result.overall_sd == expected
    assert result.mean == pytest.approx(case["mean"], rel=1e-14)
    assert result.mean == fmean(readings)
