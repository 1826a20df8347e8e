import pytest
from wedge_bench import REGISTER, judged

from gatekeeper.verdict import Decision, Outcome

TABLET = "tablet: {A: 0.05, B: 1.48, C: 2.95}, tablet_uncertainty: 0.01"
KNOWN = REGISTER.replace(
    "uncertainty: 0.02, filter: visual", f"uncertainty: 0.02, filter: visual, {TABLET}"
)
HEAD = {"sheet": "meter check", "meter": "T-04", "operator": "JV", "measured": "2026-11-24 08:05"}
GOOD = ("clear,0.05,A", "solid,1.49,B", "solid,2.94,C")


def sheet(rows=GOOD, **changes):
    head = {**HEAD, **{name.replace("_", " "): value for name, value in changes.items()}}
    lines = [f"{name},{value}" for name, value in head.items() if value is not None]
    return "\n".join([*lines, "", "patch,density,where", *rows]) + "\n"


def check(rows=GOOD, known=KNOWN, **changes):
    return judged(sheet(rows, **changes), known=known)


def says(verdict):
    return [finding.says for finding in verdict.findings if finding.outcome is Outcome.HOLD]


def test_a_meter_that_agrees_passes_and_its_worst_step_is_named():
    verdict = check()
    assert verdict.decision is Decision.APPROVED
    assert verdict.workflow == "meter-checks"
    (status,) = verdict.status
    # 0.01 over sqrt(0.02^2 + 0.01^2) = 0.02236
    assert status.says.endswith("(E_n +0.45)") or status.says.endswith("(E_n -0.45)")


def test_limit_is_the_combined_uncertainty_of_meter_and_tablet():
    at_limit = check(("clear,0.05,A", "solid,1.502,B", "solid,2.95,C"))  # E_n 0.984
    beyond = check(("clear,0.05,A", "solid,1.503,B", "solid,2.95,C"))  # E_n 1.029
    assert at_limit.decision is Decision.APPROVED
    assert beyond.decision is Decision.HELD
    (said,) = says(beyond)
    assert said.startswith("step B reads 1.503, certified 1.480: off by +0.023")


def test_every_reading_of_a_step_must_agree():
    assert check((*GOOD, "solid,1.60,B")).decision is Decision.HELD


def test_steps_are_named_in_any_spelling_or_in_the_column_name():
    rows = ("clear,0.05,a", "solid,1.49, B ", "solid,2.94,C")
    assert check(rows).decision is Decision.APPROVED
    named = sheet(rows).replace("patch,density,where", "patch,density,name")
    assert judged(named, known=KNOWN).decision is Decision.APPROVED


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (GOOD[:2], "steps of the tablet were not read: C"),
        ((*GOOD, "solid,2.0,D"), 'the tablet has no step "D"'),
        ((*GOOD, "solid,2.0,"), "does not say which step"),
        ((*GOOD[:2], "solid,> 2.9,C"), "beyond the meter's range"),
    ],
)
def test_a_check_that_is_not_whole_is_no_good_check(rows, said):
    verdict = check(rows)
    assert verdict.decision is Decision.HELD
    assert any(said in text for text in says(verdict))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"meter": None}, "does not say which meter"),
        ({"meter": "T-40"}, 'nearest known one is "T-04"'),
        ({"filter": "UV"}, 'read through "UV"'),
    ],
)
def test_a_check_of_a_meter_that_is_not_known_says_nothing(changes, said):
    verdict = check(**changes)
    assert verdict.decision is Decision.HELD
    assert any(said in text for text in says(verdict))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (TABLET, "note: none", "lacks what a check is held against: certified values"),
        (", tablet_uncertainty: 0.01", "", "their uncertainty"),
        ("uncertainty: 0.02, filter", "filter", "the meter's own"),
    ],
)
def test_a_register_without_certified_values_holds_the_check(old, new, said):
    assert old in KNOWN
    verdict = check(known=KNOWN.replace(old, new, 1))
    assert verdict.decision is Decision.HELD
    assert any(said in text for text in says(verdict))


def test_a_tablet_and_a_meter_without_any_doubt_are_not_believed():
    known = KNOWN.replace("uncertainty: 0.02", "uncertainty: 0").replace(
        "tablet_uncertainty: 0.01", "tablet_uncertainty: 0"
    )
    assert "no uncertainty at all" in says(check(known=known))[0]


def test_a_failed_check_says_what_to_do_and_where_its_jobs_are():
    verdict = check(("clear,0.05,A", "solid,1.60,B", "solid,2.95,C"))
    (finding,) = [entry for entry in verdict.findings if entry.do]
    steps = " ".join(step.says for step in finding.do)
    assert "meters doubt" in steps
    assert "second check that passes" in steps
