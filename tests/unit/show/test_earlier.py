"""How a job was judged before, and how the readings that held it moved."""

import dataclasses
import io

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from gatekeeper.show.earlier import courses, judgements
from gatekeeper.show.why import print_report
from gatekeeper.verdict import Decision, Outcome


def again(verdict, reading):
    """Return the verdict as if the reading that held it had been another."""
    findings = [
        dataclasses.replace(entry, outcome=Outcome.PASS, measured=reading, off=None, do=())
        if entry.outcome is Outcome.HOLD
        else entry
        for entry in verdict.findings
    ]
    return dataclasses.replace(
        verdict, findings=tuple(findings), decision=Decision.APPROVED, was="held"
    )


def test_every_verdict_is_a_line_and_every_reading_that_held_has_its_course(gold_verdict):
    held = gold_verdict("was-approved")
    approved = again(held, 2.91)
    first, second = judgements([held, approved])
    assert (first.decision, first.why) == ("HELD", "the weakest solid lets light through")
    assert first.arrived == "2026-11-20 10:06"
    assert (second.number, second.decision) == (2, "approved")
    (course,) = courses([held, approved])
    assert course.limit == "solid_density.min, black"
    assert course.readings == ("2.695 density", "2.91 density")
    assert course.asked == "at least 2.85 density"


def test_a_limit_that_was_not_answered_leaves_a_dash(gold_verdict):
    held = gold_verdict("was-approved")
    silent = dataclasses.replace(again(held, 2.91), findings=())
    assert courses([silent, held])[0].readings == ("-", "2.695 density")


def printed(verdict, earlier=(), **options):
    file = io.StringIO()
    print_report(Console(file=file, width=100, **options), verdict, earlier=earlier)
    return file.getvalue()


def test_why_tells_the_history_behind_the_record_and_none_where_there_is_none(gold_verdict):
    held = gold_verdict("was-approved")
    text = printed(again(held, 2.91), [held])
    _, _, history = text.partition("HISTORY OF ITS MEASUREMENTS")
    assert " 1  2026-11-20 10:06  HELD      the weakest solid lets light through" in history
    assert "2.695 density, then 2.91 density" in history
    assert "HISTORY" not in printed(held)


@given(st.data())
@settings(max_examples=20, deadline=None)
def test_no_verdict_of_the_past_breaks_the_report(any_verdict, data):
    verdicts = data.draw(st.lists(any_verdict, min_size=2, max_size=3))
    assert "HISTORY OF ITS MEASUREMENTS" in printed(verdicts[-1], verdicts[:-1])


def test_in_a_pipe_no_line_ends_in_blanks(gold_verdict):
    text = printed(gold_verdict("held"))
    assert all(line == line.rstrip() for line in text.splitlines())
    terminal = printed(gold_verdict("held"), force_terminal=True, color_system=None)
    assert [line.rstrip() for line in terminal.splitlines()] == text.splitlines()
