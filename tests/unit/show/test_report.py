import ast
import copy
import dataclasses
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gatekeeper.show import report
from gatekeeper.show.facts import HOLDING, MAY_BE_PLATED, NO_REASON, facts_of, one_line
from gatekeeper.show.lines import LONGEST, WIDTH, columns
from gatekeeper.show.report import report_text
from gatekeeper.show.steps import merged_steps
from gatekeeper.verdict import Decision, Finding, Outcome, Step
from gatekeeper.wording import plain

HIDDEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}


def squeezed(text):
    """Return the letters alone: a report may break a line wherever it needs to."""
    return "".join(text.split())


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_no_text_makes_a_report_too_wide_or_acts_on_a_terminal(any_verdict, data):
    text = report_text(data.draw(any_verdict), title=data.draw(st.text(max_size=80)))
    assert text.endswith("\n")
    for line in text.removesuffix("\n").split("\n"):
        assert columns(line) <= WIDTH
        assert not {unicodedata.category(character) for character in line} & HIDDEN


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_every_holding_finding_and_every_step_appears(any_verdict, data):
    verdict = data.draw(any_verdict)
    letters = squeezed(report_text(verdict))
    for finding in verdict.findings:
        if finding.outcome in HOLDING:
            assert squeezed(plain(finding.says, LONGEST)) in letters
            assert squeezed(plain(finding.origin, LONGEST)) in letters
            for step in finding.do if verdict.decision is Decision.HELD else ():
                assert squeezed(plain(step.says, LONGEST)) in letters
                assert squeezed(plain(step.caution, LONGEST)) in letters


@given(st.data())
@settings(max_examples=50, deadline=None)
def test_the_decision_is_said_in_the_first_line(any_verdict, data):
    verdict = data.draw(any_verdict)
    first = report_text(verdict).split("\n")[0]
    assert first.startswith("HELD" if verdict.decision is Decision.HELD else "APPROVED")


@pytest.mark.parametrize("case", ["approved", "held", "unread", "was-approved"])
def test_equal_verdicts_give_equal_reports(case, gold_verdict):
    one = gold_verdict(case)
    other = copy.deepcopy(one)
    assert one is not other
    assert report_text(one, title="x") == report_text(other, title="x")


def test_reports_of_plain_names_are_readable_where_only_ascii_shows(gold_verdict):
    for case in ("held", "not-judged", "was-approved", "unread"):
        assert report_text(gold_verdict(case)).replace("±", "").isascii()


def test_a_job_that_may_have_been_plated_says_so_at_the_top(gold_verdict):
    again = gold_verdict("was-approved")
    top = " ".join(report_text(again).split("WHY IT IS HELD")[0].split())
    assert MAY_BE_PLATED in top.replace("!! ", "")
    for verdict in (
        dataclasses.replace(again, was="held"),
        dataclasses.replace(again, was=""),
        gold_verdict("approved"),
        dataclasses.replace(gold_verdict("approved"), was="approved"),
    ):
        assert facts_of(verdict).warning == ""
        assert "may have been made" not in report_text(verdict)


def test_a_held_job_without_any_reason_says_that_something_is_wrong(gold_verdict):
    silent = dataclasses.replace(gold_verdict("approved"), decision=Decision.HELD)
    text = " ".join(report_text(silent).split())
    assert NO_REASON in text
    assert one_line(silent) == NO_REASON
    assert "no finding answers it" in text


def test_a_sheet_that_was_not_read_is_never_called_judged(gold_verdict):
    text = report_text(gold_verdict("unread"))
    judged = text.split("NOT JUDGED")[1].split("RECORD")[0]
    assert "nothing could be compared" in judged
    assert "1044.csv" in judged
    assert "\nnothing\n" not in judged


def test_a_conceded_job_gives_its_concession_and_no_orders(gold_verdict):
    text = report_text(gold_verdict("concession"))
    assert text.startswith("APPROVED UNDER CONCESSION")
    assert "WHAT DOES NOT CONFORM" in text
    assert "the 50 % tint reads too full" in text
    assert "WHAT TO DO NEXT" not in text


CLEAN = Step(20, "Clean it.", "cleaner: no flame")
MEASURE = Step(40, "Measure again.")
PRINT = Step(65, "Print again.")


def asks(outcome, *steps):
    return Finding("x", "x.min", outcome, "says", do=steps)


def test_steps_are_merged_in_the_order_of_the_bench_with_their_reasons():
    thin = asks(Outcome.HOLD, PRINT, CLEAN, MEASURE)
    unread = asks(Outcome.NOT_JUDGED, MEASURE)
    note = asks(Outcome.NOTE, Step(5, "Order film."))
    fine = asks(Outcome.PASS, Step(1, "Never said."))
    merged = merged_steps([thin, unread, note, fine], [thin, unread])
    assert [(step.says, step.caution, step.reasons) for step in merged] == [
        ("Order film.", "", ()),
        ("Clean it.", "cleaner: no flame", (1,)),
        ("Measure again.", "", (1, 2)),
        ("Print again.", "", (1,)),
    ]


def test_a_step_that_two_findings_place_differently_is_done_at_the_earlier_place():
    late, early = Step(30, "Measure again."), Step(10, "Measure again.")
    findings = [asks(Outcome.HOLD, late, CLEAN), asks(Outcome.HOLD, early)]
    merged = merged_steps(findings, findings)
    assert [step.says for step in merged] == ["Measure again.", "Clean it."]


def test_cautions_of_equal_steps_are_all_kept_once():
    one = asks(Outcome.HOLD, CLEAN)
    other = asks(Outcome.HOLD, Step(30, "Clean it.", "gloves"), CLEAN)
    (step,) = merged_steps([one, other], [one, other])
    assert step.caution == "cleaner: no flame; gloves"
    assert step.reasons == (1, 2)


def test_a_caution_stands_directly_behind_its_step(gold_verdict):
    lines = report_text(gold_verdict("held")).split("\n")
    step = next(number for number, line in enumerate(lines) if "Clean the negative" in line)
    assert lines[step + 1].startswith("    !!  CAUTION: film cleaner")


def test_the_report_needs_no_clock_no_file_and_no_terminal_library():
    folder = Path(report.__file__).parent
    for name in ("facts", "limits", "lines", "numbers", "passed", "report", "scale", "steps"):
        tree = ast.parse((folder / f"{name}.py").read_text("utf-8"))
        imported = {
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.Import)
            for alias in node.names
        } | {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert not imported & {"os", "pathlib", "time", "datetime", "logging", "rich", "io"}
    code = "import sys, gatekeeper.show.report; sys.exit('rich' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], check=False)  # noqa: S603 -- our own words
    assert ran.returncode == 0


def test_fields_that_were_given_share_a_line_and_one_that_was_not_is_a_reason(gold_verdict):
    text = report_text(gold_verdict("approved"))
    assert "required  job, film lot: given (line 5)" in text
    assert text.count("given") == 1
