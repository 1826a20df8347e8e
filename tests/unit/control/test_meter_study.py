import pytest
from test_meter_check import KNOWN
from wedge_bench import REGISTER, judged

from gatekeeper.control.meter_study import expanded_uncertainty
from gatekeeper.measures.study import gauge_study
from gatekeeper.verdict import Decision, Outcome

READINGS = {
    "JV": {"a": (2.90, 2.91), "b": (3.20, 3.21), "c": (2.60, 2.60)},
    "MK": {"a": (2.93, 2.92), "b": (3.23, 3.21), "c": (2.61, 2.62)},
}


def sheet(readings=READINGS, meter="T-04"):
    blocks = [f"sheet,meter study\nmeter,{meter}\nmeasured,2026-11-24 09:00"]
    for number, (hand, films) in enumerate(readings.items()):
        head = f"operator,{hand}\n" if hand else ""
        rows = [f"solid,{value},{film}" for film, values in films.items() for value in values]
        joint = "\n" if number == 0 else "\n\n"
        blocks.append(joint + head + "\npatch,density,where\n" + "\n".join(rows))
    return "".join(blocks) + "\n"


def says(verdict):
    return " / ".join(finding.says for finding in verdict.findings if finding.do)


def test_a_study_tells_repeatability_hands_and_films_by_analysis_of_variance():
    verdict = judged(sheet(), known=KNOWN)
    assert verdict.decision is Decision.APPROVED, says(verdict)
    assert verdict.workflow == "meter-studies"
    rows = [
        (film, hand, value)
        for hand, films in READINGS.items()
        for film, values in films.items()
        for value in values
    ]
    study = gauge_study(rows)
    spread, uncertainty = (status.says for status in verdict.status)
    assert f"repeatability {study.repeatability_sd:.4f}" in spread
    assert f"from hand to hand {study.reproducibility_sd:.4f}" in spread
    assert f"±{2 * study.gauge_sd:.3f} by this study" in uncertainty


def test_uncertainty_to_enter_holds_the_certificate_too():
    rows = [("a", "x", 1.0), ("a", "x", 1.02), ("a", "y", 1.01), ("a", "y", 1.03)]
    rows += [("b", "x", 2.0), ("b", "x", 2.02), ("b", "y", 2.01), ("b", "y", 2.03)]
    study = gauge_study(rows)
    alone = expanded_uncertainty(study, None)
    assert alone == pytest.approx(2 * study.gauge_sd)
    assert expanded_uncertainty(study, 0.02) == pytest.approx((alone**2 + 0.0004) ** 0.5)


def test_few_categories_are_remarked_and_hold_nothing():
    alike = {hand: dict.fromkeys("abc", (2.9, 2.91)) for hand in ("JV", "MK")}
    alike["MK"] = {"a": (2.91, 2.90), "b": (2.92, 2.90), "c": (2.90, 2.92)}
    verdict = judged(sheet(alike), known=KNOWN)
    assert verdict.decision is Decision.APPROVED
    notes = [entry.says for entry in verdict.findings if entry.outcome is Outcome.NOTE]
    assert any("5 categories or more are wanted" in note for note in notes)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({"JV": READINGS["JV"]}, "does not cross films and hands evenly"),
        ({"JV": READINGS["JV"], "": READINGS["MK"]}, "does not cross films and hands evenly"),
        ({"JV": READINGS["JV"], "MK": {"a": (2.93,), "b": (3.2, 3.2)}}, "evenly"),
        ({"JV": {"": (2.9, 2.9)}, "MK": {"": (2.9, 2.9)}}, "does not name its film"),
    ],
)
def test_a_study_that_is_not_whole_is_held_with_the_reason(readings, said):
    verdict = judged(sheet(readings), known=KNOWN)
    assert verdict.decision is Decision.HELD
    assert said in says(verdict)


def test_a_study_of_an_unknown_meter_is_held():
    assert "not in the register" in says(judged(sheet(meter="T-99"), known=REGISTER))


def test_a_study_without_any_operator_is_held():
    assert "whose hand it was" in says(judged(sheet({"": READINGS["JV"]}), known=KNOWN))
