"""Quantiles and tails are those of the tables in textbooks. Values: data/distributions.yaml."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from gatekeeper.measures.distributions import chi_square_quantile, f_tail, t_quantile

DATA = yaml.safe_load((Path(__file__).parent / "data" / "distributions.yaml").read_text("utf-8"))
CASE = DATA["critical_values"]
TOLERANCE = CASE["tolerance"]["abs"]


@pytest.mark.parametrize(("p", "df", "value"), CASE["t"])
def test_t_has_the_tabled_quantile(p, df, value):
    assert t_quantile(p, df) == pytest.approx(value, abs=TOLERANCE)


@pytest.mark.parametrize(("p", "df", "value"), CASE["chi_square"])
def test_chi_square_has_the_tabled_quantile(p, df, value):
    assert chi_square_quantile(p, df) == pytest.approx(value, abs=TOLERANCE)


@pytest.mark.parametrize(("p", "numerator", "denominator", "value"), CASE["f"])
def test_f_reaches_the_tabled_value_with_the_tabled_chance(p, numerator, denominator, value):
    above = f_tail(value + TOLERANCE, numerator, denominator)
    below = f_tail(value - TOLERANCE, numerator, denominator)
    assert above < p < below
