"""Monotone curves give what papers and libraries print. Values: data/monotone.yaml."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml

from gatekeeper.measures.tone import monotone_curve, monotone_fit

DATA = yaml.safe_load((Path(__file__).parent / "data" / "monotone.yaml").read_text("utf-8"))
RPN14 = DATA["rpn14"]


def test_curve_through_the_steep_data_is_the_printed_one():
    curve = monotone_curve(RPN14["x"], RPN14["y"])
    assert curve(RPN14["at"]) == pytest.approx(RPN14["expect"], abs=RPN14["tolerance"]["abs"])


def test_curve_through_the_steep_data_neither_falls_nor_overshoots():
    curve = monotone_curve(RPN14["x"], RPN14["y"])
    heights = curve(np.linspace(RPN14["x"][0], RPN14["x"][-1], 10_001))
    assert (np.diff(heights) >= 0).all()
    assert heights.min() >= min(RPN14["y"])
    assert heights.max() <= max(RPN14["y"])


def test_violators_are_pooled_as_by_hand():
    case = DATA["pooled"]
    assert monotone_fit(case["y"]) == pytest.approx(case["expect"], abs=case["tolerance"]["abs"])
