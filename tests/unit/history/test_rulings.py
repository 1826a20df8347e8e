"""Which rules were in force, by a moment or by the beginning of a fingerprint."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import Engine, event

DAYS = {"t001": 1, "t002": 5, "t003": 9}


@pytest.fixture
def history(room, make):
    """Three verdicts on one workflow, the rules changed between them, and others beside them."""
    history = room.open()
    for ticket, day in DAYS.items():
        moment = datetime(2026, 11, day, 12, tzinfo=UTC)
        fingerprint = ticket[-1] * 64
        text = f"workflow: liquid-plate\nsince: {day}\n"
        changes = {"rules_fingerprint": fingerprint, "rules_text": text, "customer": ""}
        history.remember(make.filed(ticket, job=f"J{day}", filed_at=moment, **changes))
    history.remember(
        make.filed("t004", job="J20", customer="Quillmark Cartons", rules_fingerprint="a4" * 32)
    )
    history.remember(make.filed("t005", job="J21", workflow="stencil", rules_fingerprint="a5" * 32))
    history.remember(make.filed("t006", job="J22", rules_fingerprint="", rules_text=""))
    return history


def at(history, day, hour=23, workflow="liquid-plate", customer=""):
    found = history.rules_at(workflow, customer, datetime(2026, 11, day, hour, tzinfo=UTC))
    return (found.rules.fingerprint[0], found.job) if found else None


@pytest.mark.parametrize(
    ("day", "hour", "expected"),
    [
        (1, 11, None),
        (1, 12, ("1", "J1")),
        (5, 11, ("1", "J1")),
        (5, 12, ("2", "J5")),
        (30, 0, ("3", "J9")),
    ],
)
def test_rules_of_the_last_job_by_a_moment_were_in_force(history, day, hour, expected):
    assert at(history, day, hour) == expected


def test_an_older_verdict_of_a_job_judged_again_still_tells_its_rules(history, make):
    moment = datetime(2026, 11, 12, 12, tzinfo=UTC)
    changes = {"rules_fingerprint": "9" * 64, "rules_text": "x: y\n", "customer": ""}
    history.remember(make.filed("t007", job="J9", filed_at=moment, **changes))
    assert at(history, 11) == ("3", "J9")
    assert at(history, 13) == ("9", "J9")


def test_customer_and_workflow_are_those_asked_for(history):
    assert at(history, 30, customer="Quillmark Cartons") == ("a", "J20")
    assert at(history, 30, customer="quillmark") is None
    assert at(history, 30, workflow="stencil", customer="Quillmark Cartons") == ("a", "J21")
    assert at(history, 30, workflow="nowhere") is None


def test_fingerprint_is_found_by_its_beginning(history):
    assert [rules.fingerprint for rules in history.rule_sets_beginning("22")] == ["2" * 64]
    assert history.rule_sets_beginning("2" * 64)[0].text.endswith("since: 5\n")
    assert len(history.rule_sets_beginning("a")) == 2
    assert history.rule_sets_beginning("b") == ()


@pytest.mark.parametrize("start", ["%", "_", "1%"])
def test_signs_that_mean_anything_to_a_database_mean_themselves(history, start):
    assert history.rule_sets_beginning(start) == ()


def test_rules_of_another_site_are_not_found(history, room):
    other = room.open("south")
    assert other.rules_at("liquid-plate", "", datetime(2027, 1, 1, tzinfo=UTC)) is None
    assert other.rule_sets_beginning("1") == ()
    assert history.rule_sets_beginning("1")


def test_rules_at_a_moment_walk_indices_and_never_all_events(file_room, make):
    room = file_room()
    history = room.open()
    history.remember(make.filed("t001"))
    asked = []

    def keep(_connection, _cursor, statement, parameters, *_):
        asked.append((statement, parameters))

    event.listen(Engine, "before_cursor_execute", keep)
    try:
        at(history, 30)
    finally:
        event.remove(Engine, "before_cursor_execute", keep)
    plans = [
        [row[3] for row in room.sql(f"EXPLAIN QUERY PLAN {words}", *values)]
        for words, values in asked
        if words.startswith("SELECT")
    ]
    steps = [step for plan in plans for step in plan]
    assert any("events_kind (site=? AND kind=?" in step for step in steps)
    assert not [step for step in steps if step.startswith("SCAN") or "TEMP" in step]
