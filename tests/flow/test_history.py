"""The history between programs: one is killed, two write at once, one deletes it."""

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gatekeeper.clock import SystemClock
from gatekeeper.history import FiledSheet, FiledVerdict, as_read, open_history, read_history
from gatekeeper.sheet import Negative, Number, Patch, PatchKind, Sheet, SheetKind
from gatekeeper.verdict import Decision, Finding, JudgedSheet, Outcome, Verdict

ROOT = Path(__file__).parents[2]
URL = "sqlite:///history.sqlite"

# Records one verdict after the other until it is stopped, and says each ticket once it is durable.
WRITER = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location("story", sys.argv[1])
story = importlib.util.module_from_spec(spec)
spec.loader.exec_module(story)
history = story.opened(story.Path(sys.argv[2]))
for number in range(int(sys.argv[4])):
    ticket = f"{sys.argv[3]}-{number:05}"
    history.remember(story.filed(ticket))
    print(ticket, flush=True)
"""


def opened(folder):
    clock = SystemClock()
    return open_history(URL, base=folder, site="north", clock=clock, program="gatekeeper 0.1.0")


def looking(folder):
    return read_history(URL, base=folder, site="north", clock=SystemClock())


def filed(ticket, decision=Decision.APPROVED):
    patches = tuple(
        Patch(PatchKind.TINT, Number(50.0, "50"), Number(0.3, "0.30")) for _ in range(30)
    )
    sheet = Sheet(SheetKind.NEGATIVE, (Negative(patches=patches),))
    verdict = Verdict(
        ticket=ticket,
        job=f"job {ticket}",
        workflow="liquid-plate",
        customer="Quillmark Cartons",
        decision=decision,
        rules_fingerprint="f" * 64,
        arrived="2026-11-20T10:00:00+01:00",
        program="gatekeeper 0.1.0",
        findings=(Finding("tints", "tints.50.tolerance", Outcome.PASS, "as it should"),),
        sheets=(JudgedSheet("readings.csv", ticket.ljust(64, "0"), ticket),),
        rules_text="workflow: liquid-plate\n",
    )
    moment = datetime(2026, 11, 20, 9, 10, tzinfo=UTC)
    read = FiledSheet("readings.csv", sheet, as_read(sheet))
    return FiledVerdict("north", verdict, f"{decision}/liquid-plate/{ticket}", moment, (read,))


def writer(folder, name, count):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, __file__, str(folder), name, str(count)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )


@pytest.mark.parametrize("acknowledged", [0, 1, 7])
def test_a_program_killed_while_it_records_loses_nothing_that_it_acknowledged(
    tmp_path, acknowledged
):
    with writer(tmp_path, "t", 100_000) as process:
        told = [process.stdout.readline().strip() for _ in range(acknowledged)]
        process.kill()
        told += process.stdout.read().split()
    with opened(tmp_path) as history:
        recorded = {line.ticket for line in history.jobs(limit=None)}
        assert set(told) <= recorded
        assert len(recorded) <= len(told) + 1
        assert history.counts().approved == len(recorded)
        assert history.verify().broken is None
        for ticket in told[-1:]:
            assert len(history.negatives(f"job {ticket}")[0].readings) == 30
    assert not [path for path in tmp_path.iterdir() if "damaged" in path.name]


def test_two_programs_that_record_at_once_make_one_chain(tmp_path):
    with writer(tmp_path, "a", 40) as one, writer(tmp_path, "b", 40) as other:
        told = set(one.communicate()[0].split()) | set(other.communicate()[0].split())
    with looking(tmp_path) as history:
        assert {line.ticket for line in history.jobs(limit=None)} == told
        assert len(told) == 80
        assert history.counts().approved == 80
        report = history.verify()
    assert (report.events, report.broken) == (81, None)


def test_a_history_that_is_deleted_and_told_again_gives_the_same_answers(tmp_path):
    jobs = [
        filed(f"t{number:03}", (Decision.APPROVED, Decision.HELD)[number % 3 == 0])
        for number in range(20)
    ]

    def answers(history):
        return (
            sorted((line.job, line.decision, line.folder) for line in history.jobs()),
            history.counts(),
            [past.verdict for job in jobs for past in history.job(job.verdict.job)],
            [film for job in jobs for film in history.negatives(job.verdict.job)],
        )

    with opened(tmp_path) as history:
        history.remember_many(jobs)
        before = answers(history)
    for path in tmp_path.iterdir():
        path.unlink()
    with opened(tmp_path) as history:
        for job in reversed(jobs):
            history.remember(job)
        assert answers(history) == before
        assert history.begun == "no history was there"


def answers(room):
    site = ("--site", str(room.root))
    jobs = json.loads(room.call("jobs", "--json", *site).stdout)
    trend = json.loads(room.call("trend", "--json", "--since", "2026-11-01", *site).stdout)
    del trend["at"]
    return [{**job, "filed": job["filed"][:19]} for job in jobs], trend


def test_a_history_that_is_deleted_under_the_daemon_fills_itself_and_answers_as_before(
    room, sheet, wait_for
):
    def has(number):
        said = room.call("jobs", "--json", "--site", str(room.root), expect=None)
        return said.code == 0 and len(json.loads(said.stdout)) == number

    with room.daemon():
        for number in range(3):
            room.drop(f"{number}.csv", sheet(job=str(number), operator=f"K{number}"))
            wait_for((room.root / f"approved/liquid-plate/{number}").is_dir)
        wait_for(lambda: has(3))
        before = answers(room)
        for _ in range(2):  # the second time for the same reason
            for path in (room.root / "state").glob("history.sqlite*"):
                path.unlink()
            wait_for(lambda: has(3))
        assert answers(room)[1] == before[1]
        assert [job["job"] for job in answers(room)[0]] == [job["job"] for job in before[0]]
    verified = room.call("history", "verify", "--site", str(room.root))
    assert "unbroken" in verified.stdout


def test_a_sweep_after_the_history_was_deleted_knows_the_jobs_before_it_judges(room, sheet):
    room.drop("1041.csv", sheet(job=None))
    room.sweep(expect=None)
    for path in (room.root / "state").glob("history.sqlite*"):
        path.unlink()
    room.drop("1042.csv", sheet(job=None))
    room.sweep(expect=None)
    assert "sheet.own" in room.holds("1042"), "the same bytes under another job"
