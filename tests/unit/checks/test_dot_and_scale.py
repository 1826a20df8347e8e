"""The meter's own dot beside its densities, and the tints beside each other."""

from __future__ import annotations

import pytest
from bench import REGISTER, findings, holding, judged, library, only, typed

from gatekeeper.measures.density import dot_area
from gatekeeper.rules.files import built_in_defaults
from gatekeeper.rules.library import Library
from gatekeeper.verdict import Decision, Outcome

KNOWN = REGISTER.replace("filter: visual", "filter: visual, uncertainty: 0.02")
AGREE = "dot: {max_disagreement: 2.0}"
RULE = "dot.max_disagreement"


def sheet(*tints, **changes):
    return typed(
        rows=["clear,,0.00", "solid,,2.90", *(f"tint,{tint}" for tint in tints)], **changes
    )


# -- the meter's own dot and its densities -------------------------------------------------------


@pytest.mark.parametrize(
    ("own", "outcome"),
    [("50.1", Outcome.PASS), ("52.05", Outcome.PASS), ("52.1", Outcome.HOLD), ("48", Outcome.HOLD)],
)
def test_two_dots_of_one_tint_agree_within_the_limit(own, outcome):
    """0.30 over 2.90 is 50.056 %."""
    finding = only(judged(sheet(f"50,0.30,{own}"), rules=AGREE), RULE)
    assert finding.outcome is outcome
    assert finding.measured == pytest.approx(abs(float(own) - 50.056), abs=1e-3)


@pytest.mark.parametrize(
    ("own", "cause"), [("60.0", "zeroed on the wrong patch"), ("30.0", "does not print")]
)
def test_likely_cause_is_said(own, cause):
    """0.155 over 2.90 is 70.0 % of a negative, of which 30 % does not print."""
    finding = only(judged(sheet(f"70,0.155,{own}"), rules=AGREE), RULE)
    assert finding.outcome is Outcome.HOLD
    assert cause in finding.says
    assert any("zero it on the 100 % patch" in step.says for step in finding.do)
    assert any("negative or positive" in step.says for step in finding.do)


def test_half_tint_in_the_wrong_mode_is_not_called_so():
    """Near 50 % both areas are alike, so the mode cannot be told from the numbers."""
    finding = only(judged(sheet("50,0.30,47.5"), rules=AGREE), RULE)
    assert "another mode, or was zeroed on the wrong patch" in finding.says


def test_worst_of_several_tints_decides():
    finding = only(judged(sheet("50,0.30,50", "70,0.155,65", "90,0.046,90"), rules=AGREE), RULE)
    assert finding.measured == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize(
    ("tints", "says"),
    [
        (["50,,50"], "no tint has both"),
        (["50,0.30,"], "no tint has both"),
        (["50,0.30,>50"], "only a bound for the dot"),
        (["50,>0.30,50"], "only a bound for the tint"),
        (["50,0.30,50", "70,>0.30,50"], "only a bound for the tint"),
    ],
)
def test_comparison_that_cannot_be_made_is_not_judged(tints, says):
    finding = only(judged(sheet(*tints), rules=AGREE), RULE)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert says in finding.says


def test_without_the_key_a_large_difference_is_a_note():
    verdict = judged(sheet("50,0.30,53"))
    assert verdict.decision is Decision.APPROVED
    assert only(verdict, "dot.disagreement").outcome is Outcome.NOTE
    assert findings(judged(sheet("50,0.30,52")), "dot.disagreement") == []
    assert findings(judged(sheet("50,>0.30,10")), "dot.disagreement") == []
    assert findings(judged(sheet("50,0.30,53"), rules=AGREE), "dot.disagreement") == []


def test_difference_of_two_dots_has_the_doubt_of_both():
    finding = only(judged(sheet("50,0.30,50"), rules=AGREE, in_register=KNOWN), RULE)
    assert finding.uncertainty == pytest.approx(2.31 * 2**0.5, abs=0.01)


# -- the spread factor ---------------------------------------------------------------------------


def test_spread_factor_is_taken_into_computed_dots_and_into_no_others():
    rules = "dot: {spread_factor: 1.7}\ntints: [{nominal: 50, tolerance: 90}]"
    computed = only(judged(sheet("50,0.30,"), rules=rules), "tints.50.tolerance")
    expected = 100 * dot_area(0.30, 2.90, reading="negative", n=1.7)
    assert computed.measured == pytest.approx(expected)
    own = only(judged(sheet("50,,50.5"), rules=rules), "tints.50.tolerance")
    assert own.measured == 50.5


def test_doubt_of_a_dot_with_a_spread_factor_agrees_with_a_small_step():
    rules = "dot: {spread_factor: 1.7}\ntints: [{nominal: 50, tolerance: 90}]"
    finding = only(judged(sheet("50,0.30,"), rules=rules, in_register=KNOWN), "tints.50.tolerance")
    step = 1e-6
    area = [dot_area(0.30 + d, 2.90 + s, reading="negative", n=1.7) for d, s in
            ((0, 0), (step, 0), (0, step))]  # fmt: skip
    by_tint, by_solid = ((value - area[0]) / step for value in area[1:])
    expected = 2 * 100 * 0.01 * (by_tint**2 + by_solid**2) ** 0.5
    assert finding.uncertainty == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("n", ["0.99", "0"])
def test_spread_factor_below_plain_area_is_refused(n):
    always, where_used = built_in_defaults()
    text = f"workflow: plate\nreading: negative\ndot: {{spread_factor: {n}}}\n"
    found = Library({"workflows/plate.yaml": text.encode()}, always=always, where_used=where_used)
    assert [problem.name for problem in found.all_problems] == ["out-of-range"]


def test_plain_area_is_built_in():
    assert library("").effective("plate", "").number("dot", "spread_factor", default=9) == 1.0


# -- rising tints --------------------------------------------------------------------------------

RISE = "tone_scale: {min_rise: 0.5}"
RISES = "tone_scale.min_rise"


@pytest.mark.parametrize(
    ("dots", "outcome"),
    [
        ((27, 51, 76), Outcome.PASS),
        ((27, 27.5, 76), Outcome.PASS),
        ((27, 27.4, 76), Outcome.HOLD),
        ((27, 27, 76), Outcome.HOLD),
        ((51, 27, 76), Outcome.HOLD),
        ((27, 76, 51), Outcome.HOLD),
    ],
)
def test_each_tint_reads_above_the_one_before(dots, outcome):
    tints = [f"{nominal},,{dot}" for nominal, dot in zip((25, 50, 75), dots, strict=True)]
    for order in (tints, tints[::-1]):
        assert only(judged(sheet(*order), rules=RISE), RISES).outcome is outcome


def test_tints_that_do_not_rise_are_named_with_their_readings():
    finding = only(judged(sheet("25,,51", "50,,27"), rules=RISE), RISES)
    assert finding.says == (
        "the 50 % tint reads 27.0 %, the 25 % tint 51.0 %: no curve can part them"
    )
    assert finding.measured == -24


def test_patches_of_one_nominal_are_averaged():
    tints = ["25,,26", "50,,25", "25,,24", "50,,52"]  # 25.0 and 38.5
    finding = only(judged(sheet(*tints), rules=RISE), RISES)
    assert (finding.outcome, finding.measured) == (Outcome.PASS, 13.5)


@pytest.mark.parametrize(
    ("tints", "says"),
    [
        (["50,,50"], "at least two tints"),
        ([], "at least two tints"),
        (["25,,25", "50,>0.3,"], "the 50 % tint: the meter gave only a bound"),
    ],
)
def test_rise_that_cannot_be_told_is_not_judged(tints, says):
    finding = only(judged(sheet(*tints), rules=RISE), RISES)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert says in finding.says


def test_rise_has_the_doubt_of_both_tints():
    finding = only(judged(sheet("25,,25", "50,,50"), rules=RISE, in_register=KNOWN), RISES)
    u = [100 * 2.302585 * light * 0.02 for light in (0.25, 0.50)]
    assert finding.uncertainty == pytest.approx((u[0] ** 2 + u[1] ** 2) ** 0.5, rel=0.01)


# -- the smallest tint ---------------------------------------------------------------------------

CELL = "tone_scale: {min_cell_dots: 4}"
CELLS = "tone_scale.min_cell_dots"


@pytest.mark.parametrize(
    ("nominal", "resolution", "outcome", "dots"),
    [
        # A cell of 1440 dpi at 72 lpi is 20 dots a side, 400 in all.
        ("1", "1440 dpi", Outcome.PASS, 4.0),
        ("0.9", "1440 dpi", Outcome.HOLD, 3.6),
        ("99", "1440 dpi", Outcome.PASS, 4.0),
        ("99.5", "1440 dpi", Outcome.HOLD, 2.0),
        ("1", "720 dpi", Outcome.HOLD, 1.0),
        ("50", "720 dpi", Outcome.PASS, 50.0),
    ],
)
def test_smallest_tint_has_dots_enough_in_its_cell(nominal, resolution, outcome, dots):
    text = sheet("50,,50", f"{nominal},,50", resolution=resolution, ruling="72 lpi")
    finding = only(judged(text, rules=CELL), CELLS)
    assert (finding.outcome, finding.measured) == (outcome, pytest.approx(dots))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"ruling": None}, "both ruling and resolution"),
        ({"resolution": None}, "both ruling and resolution"),
        ({"resolution": "60 dpi"}, "not below the resolution"),
    ],
)
def test_cell_that_nobody_knows_is_not_judged(changes, says):
    finding = only(judged(sheet("50,,50", **changes), rules=CELL), CELLS)
    assert finding.outcome is Outcome.NOT_JUDGED
    assert says in finding.says


def test_clear_and_full_are_no_tints():
    assert "no tint" in only(judged(sheet("0,,0", "100,,100"), rules=CELL), CELLS).says
    assert holding(judged(sheet("0,,0", "50,,50", "100,,100"), rules=CELL)) == []
