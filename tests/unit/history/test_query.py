from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, event

from gatekeeper.history import FiledSheet
from gatekeeper.history.interface import as_read
from gatekeeper.likeness import digits_of
from gatekeeper.sheet import Sheet, SheetKind, Text
from gatekeeper.verdict import Decision

HELD, APPROVED = Decision.HELD, Decision.APPROVED
NINE = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)

on_a_file = pytest.mark.parametrize("make_room", ["file_room"], indirect=True)
"""For what SQLite says of its own plans."""


@pytest.fixture
def history(room, make):
    """Eight jobs, an hour apart, the last filed at 16:00."""
    history = room.open()
    history.remember_many(
        make.filed(
            f"t00{number}",
            job=f"J{number}",
            workflow=("liquid-plate", "screen")[number % 2],
            customer=("Quillmark Cartons", "Bramble & Finch")[number // 4],
            decision=HELD if number in {2, 5} else APPROVED,
            filed_at=NINE + timedelta(hours=number),
        )
        for number in range(8)
    )
    return history


@pytest.mark.parametrize(
    ("asked", "jobs"),
    [
        ({}, "J7 J6 J5 J4 J3 J2 J1 J0"),
        ({"limit": 3}, "J7 J6 J5"),
        ({"limit": None}, "J7 J6 J5 J4 J3 J2 J1 J0"),
        ({"state": HELD}, "J5 J2"),
        ({"state": APPROVED}, "J7 J6 J4 J3 J1 J0"),
        ({"workflow": "screen"}, "J7 J5 J3 J1"),
        ({"customer": "Quillmark Cartons"}, "J3 J2 J1 J0"),
        ({"since": NINE + timedelta(hours=6)}, "J7 J6"),
        ({"state": HELD, "customer": "Quillmark Cartons"}, "J2"),
        ({"state": APPROVED, "customer": "Bramble & Finch", "workflow": "screen"}, "J7"),
        ({"state": HELD, "workflow": "screen", "since": NINE + timedelta(hours=5)}, "J5"),
        ({"workflow": "none"}, ""),
    ],
)
def test_jobs_are_found_by_state_time_workflow_and_customer(history, asked, jobs):
    assert [line.job for line in history.jobs(**asked)] == jobs.split()


def test_jobs_are_counted_by_workflow(history):
    by_workflow = [
        (count.workflow, count.approved, count.held) for count in history.counts().by_workflow
    ]
    assert by_workflow == [("liquid-plate", 3, 1), ("screen", 3, 1)]
    assert (history.counts().approved, history.counts().held) == (6, 2)


def test_counts_equal_what_counting_gives(history, room, make):
    for ticket, decision in [("t010", HELD), ("t011", APPROVED), ("t012", HELD)]:
        history.remember(make.filed(ticket, job="J0", decision=decision))
    counted = dict(room.sql("SELECT decision, count(*) FROM verdicts WHERE newest GROUP BY 1"))
    assert counted == {"approved": history.counts().approved, "held": history.counts().held}


def test_a_job_that_learns_its_workflow_is_counted_once(history, make):
    place = "held/unsorted/J9"
    history.remember(make.filed("t020", job="J9", workflow="", folder=place, decision=HELD))
    history.remember(make.filed("t021", job="J9", workflow="screen", folder=place, decision=HELD))
    assert [(count.workflow, count.held) for count in history.counts().by_workflow] == [
        ("", 0),
        ("liquid-plate", 1),
        ("screen", 2),
    ]


def test_a_job_is_found_whatever_the_spelling(history):
    assert [past.line.ticket for past in history.job(" j3 ")] == ["t003"]
    assert history.job("J33") == ()
    assert history.negatives("J33") == ()


def test_bytes_belong_to_the_job_that_used_them_first(room, make):
    history = room.open()
    digest = "a" * 64
    for ticket, job in [("t001", "first"), ("t002", "second"), ("t003", "first")]:
        history.remember(_with_sheet(make, ticket, job, make.sheet(ticket, sha256=digest)))
    known = history.known_digest(digest, other_than_job="second")
    assert (known.job, known.workflow, known.name, known.ticket) == (
        "first", "liquid-plate", "1041.csv", "t001",
    )  # fmt: skip
    assert history.known_digest(digest, other_than_job="First") is None
    assert history.known_digest("b" * 64, other_than_job="second") is None


def _with_sheet(make, ticket, job, sheet):
    one = make.filed(ticket, job=job, sheets=())
    return replace(one, verdict=replace(one.verdict, sheets=(sheet,)))


def _measured(make, ticket, job, *, dot=50.8, kind=SheetKind.NEGATIVE):
    """Return a verdict whose sheet has one film, told apart by its dot."""
    patches = [
        replace(patch, dot_percent=make.number(dot)) if patch.dot_percent else patch
        for patch in make.NEGATIVE.patches
    ]
    sheet = Sheet(kind, (replace(make.NEGATIVE, job=Text(job), patches=tuple(patches)),))
    return make.filed(ticket, job=job, sheets=(FiledSheet("1041.csv", sheet, as_read(sheet)),))


@pytest.fixture
def digits(make):
    return digits_of(make.NEGATIVE).sha256


def test_digits_belong_to_the_job_that_used_them_first(room, make, digits):
    history = room.open()
    history.remember(_measured(make, "t001", "first"))
    assert history.known_digits(digits, ticket="t001", other_than_job="first") is None
    assert history.known_digits(digits, ticket="t002", other_than_job=" FIRST") is None
    history.remember(_measured(make, "t002", "second"))
    assert history.known_digits(digits, ticket="t003", other_than_job="first") is None
    known = history.known_digits(digits, ticket="t002", other_than_job="second")
    assert (known.job, known.workflow, known.name, known.ticket) == (
        "first", "liquid-plate", "1041.csv", "t001",
    )  # fmt: skip


def test_digits_of_others_are_looked_for_nearest_in_time_first_before_then_after(
    room, make, digits
):
    history = room.open()
    for ticket, job in [("t001", "a"), ("t003", "b"), ("t005", "c"), ("t007", "d")]:
        history.remember(_measured(make, ticket, job))
    for ticket, job, nearest in [
        ("t009", "e", "d"), ("t004", "e", "b"), ("t004", "b", "a"), ("t000", "e", "a"),
    ]:  # fmt: skip
        known = history.known_digits(digits, ticket=ticket, other_than_job=job)
        assert known.job == nearest


def test_other_digits_and_other_sites_are_nobodys(room, make, digits):
    room.open("south").remember(replace(_measured(make, "t001", "x"), site="south"))
    history = room.open()
    history.remember(_measured(make, "t001", "first", dot=50.9))
    assert history.known_digits(digits, ticket="t002", other_than_job="second") is None


@pytest.mark.parametrize("kind", [kind for kind in SheetKind if kind is not SheetKind.NEGATIVE])
def test_sheets_that_are_made_to_read_alike_leave_no_digits(room, make, digits, kind):
    history = room.open()
    history.remember(_measured(make, "t001", "first", kind=kind))
    assert history.known_digits(digits, ticket="t002", other_than_job="second") is None
    assert room.sql("SELECT digits FROM negatives") == [(None,)]


@on_a_file
def test_digits_are_found_by_index_and_never_sorted(room, make, digits):
    history = room.open()
    for number in range(4):
        history.remember(_measured(make, f"t{number}", f"job {number}"))
    asked = _statements_of(
        lambda: [
            history.known_digits(digits, ticket=ticket, other_than_job="another")
            for ticket in ("t9", "t0")
        ]
    )
    plans = [_plan(room, *one) for one in asked]
    assert len(plans) == 5  # the first and the one before; the first, none before, the one after
    for plan in plans:
        assert "negatives_digits (site=? AND digits=?" in "\n".join(plan)
        assert not [step for step in plan if _is_slow(step)]


def test_digits_that_nobody_used_cost_one_question(room, make, digits):
    history = room.open()
    history.remember(_measured(make, "t001", "first", dot=50.9))
    asked = _statements_of(
        lambda: history.known_digits(digits, ticket="t002", other_than_job="second")
    )
    assert len(asked) == 1


def test_a_ticket_is_known_once_its_verdict_is_recorded(history):
    assert history.has_ticket("t003")
    assert not history.has_ticket("t0")


def test_a_late_companion_finds_its_jobs_by_the_stem_of_their_sheets(room, make):
    history = room.open()
    dropped = {"one": "plate.7.csv", "two": "plate.7.txt", "three": "plate.77.csv"}
    for number, (job, name) in enumerate(dropped.items()):
        history.remember(_with_sheet(make, f"t{number}", job, make.sheet(f"t{number}", name)))
    numbered = make.sheet("t5", "plate.7.2.csv", dropped_as="late/plate.7.csv")
    history.remember(_with_sheet(make, "t5", "four", numbered))
    assert [line.job for line in history.jobs_with_stem("plate.7")] == ["four", "two", "one"]
    assert [line.job for line in history.jobs_with_stem("plate.7", limit=1)] == ["four"]
    assert history.jobs_with_stem("plate") == ()


def test_a_job_moved_from_held_to_approved_is_found_by_stem_in_its_last_state(room, make):
    history = room.open()
    history.remember(make.filed("t001", decision=HELD))
    history.remember(make.filed("t002", was="held"))
    (line,) = history.jobs_with_stem("1041")
    assert (line.ticket, line.decision) == ("t002", APPROVED)


# With the way that each is to be answered, as EXPLAIN QUERY PLAN has it. Without the index for it
# SQLite takes another by its first column, the site, and looks at every job that there is.
QUESTIONS = [
    (lambda history: history.jobs(), "verdicts_newest (site=? AND newest=?)"),
    (
        lambda history: history.jobs(since=NINE),
        "verdicts_newest (site=? AND newest=? AND filed_at>?)",
    ),
    (lambda history: history.jobs(state=HELD), "verdicts_decision (site=? AND newest=? AND dec"),
    (lambda history: history.jobs(state=APPROVED), "verdicts_decision (site=? AND newest=? AND"),
    (lambda history: history.jobs(workflow="screen"), "verdicts_workflow (site=? AND newest=? AND"),
    (lambda history: history.jobs(customer="Q"), "verdicts_customer (site=? AND newest=? AND cust"),
    # Held jobs are few, approved ones nearly all: the narrowest leads.
    (
        lambda history: history.jobs(state=HELD, workflow="screen", customer="Q"),
        "verdicts_decision (site=? AND newest=? AND decision=?)",
    ),
    (
        lambda history: history.jobs(state=APPROVED, customer="Q", since=NINE),
        "verdicts_customer (site=? AND newest=? AND customer=? AND filed_at>?)",
    ),
    (
        lambda history: history.jobs(state=APPROVED, workflow="screen"),
        "verdicts_workflow (site=? AND newest=? AND workflow=?)",
    ),
    (
        lambda history: history.known_digest("a" * 64, other_than_job="x"),
        "sheets_sha256 (site=? AND sha256=?)",
    ),
    (lambda history: history.has_ticket("t001"), "(site=? AND ticket=?)"),
    (lambda history: history.jobs_with_stem("1041"), "sheets_stem (site=? AND stem=?)"),
    (lambda history: history.jobs_with_stem("1041"), "verdicts_home (site=? AND home=? AND newest"),
    (lambda history: history.counts(), "SEARCH tallies"),
    (lambda history: history.head(), "SEARCH events USING INDEX"),
    (lambda history: history.events(after=5), "(site=? AND sequence>?)"),
    (lambda history: history.rule_set("f" * 64), "(site=? AND fingerprint=?)"),
]


@on_a_file
@pytest.mark.parametrize(("ask", "way"), QUESTIONS)
def test_every_question_walks_its_index_and_sorts_nothing(history, room, ask, way):
    plans = [_plan(room, *asked) for asked in _statements_of(lambda: ask(history))]
    assert way in "\n".join(step for plan in plans for step in plan)
    assert not [step for plan in plans for step in plan if _is_slow(step)]


@on_a_file
def test_one_job_is_found_by_index_and_only_its_own_rows_are_sorted(history, room):
    for asked in _statements_of(lambda: (history.job("J1"), history.negatives("J1"))):
        plan = _plan(room, *asked)
        assert not [step for step in plan if step.startswith("SCAN")]
        assert "job_key=?" in "\n".join(plan)


@on_a_file
def test_telling_of_a_job_walks_indices_too(history, room, make):
    asked = _statements_of(lambda: history.remember(make.filed("t100", job="J1")))
    plans = [_plan(room, *one) for one in asked]
    steps = [step for plan in plans for step in plan]
    assert not [step for step in steps if _is_slow(step)]
    for way in ("verdicts_home (site=? AND home=? AND newest=?)", "(site=? AND ticket=?)"):
        assert way in "\n".join(steps)


def _plan(room, statement, values):
    return [row[3] for row in room.sql(f"EXPLAIN QUERY PLAN {statement}", *values)]


def _is_slow(step):
    return step.startswith("SCAN") or "TEMP" in step


def _statements_of(act):
    asked = []

    def keep(_connection, _cursor, statement, parameters, *_):
        if statement.startswith(("SELECT", "UPDATE")):
            asked.append((statement, parameters))

    event.listen(Engine, "before_cursor_execute", keep)
    try:
        act()
    finally:
        event.remove(Engine, "before_cursor_execute", keep)
    return asked
