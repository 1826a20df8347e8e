"""The history commands on a site whose jobs were judged for real."""

import csv
import io
import sqlite3
from contextlib import closing

import pytest


@pytest.fixture
def busy_room(room, sheet):
    """Three jobs: approved; held, then measured again; approved, then failing a later sheet."""
    weak = [
        "clear,,0.00,,,left",
        *[f"solid,,2.50,,,{w}" for w in ("left", "centre", "right")],
        "tint,50,,50.8,,",
    ]
    room.drop("1.csv", sheet(job="1"))
    room.drop("2.csv", sheet(weak, job="2"))
    room.drop("3.csv", sheet(job="3", customer="Pennyroyal Preserves"))
    room.sweep()
    room.drop("2b.csv", sheet(job="2", operator="KL"))
    room.drop("3b.csv", sheet(weak, job="3", customer="Pennyroyal Preserves"))
    room.sweep()
    return room


def rows(room, columns, table="verdicts"):
    with closing(sqlite3.connect(room.root / "state/history.sqlite")) as database:
        return sorted(database.execute(f"select {columns} from {table}"))  # noqa: S608 -- ours


def away(room):
    for path in (room.root / "state").glob("history.sqlite*"):
        path.unlink()


def test_the_history_is_made_again_from_the_job_folders(busy_room):
    room, site = busy_room, str(busy_room.root)
    known = "ticket, job, workflow, customer, decision, was, rules_fingerprint, folder, newest"
    films = "sheet_ticket, separation, digits", "negatives"
    before, measured = rows(room, known), rows(room, *films)
    assert len({digits for _, _, digits in measured if digits}) == 2
    listed = room.call("jobs", "--json", "--site", site).stdout
    assert len(before) == 5
    away(room)
    assert "5 verdicts" in room.call("history", "rebuild", "--site", site).stdout
    assert rows(room, known) == before
    assert rows(room, *films) == measured
    again = room.call("jobs", "--json", "--site", site).stdout
    assert [line for line in again.splitlines() if '"filed"' not in line] == [
        line for line in listed.splitlines() if '"filed"' not in line
    ]
    room.call("history", "rebuild", "--site", site)
    assert rows(room, known) == before, "told twice, known once"


def test_a_verdict_that_cannot_be_read_is_named_and_the_others_are_told(busy_room):
    room, site = busy_room, str(busy_room.root)
    away(room)
    (room.folder("1") / "verdict.json").write_bytes(b'{"format": "gate')
    done = room.call("history", "rebuild", "--site", site, expect=1)
    assert "verdict.json" in done.stderr
    assert len(rows(room, "ticket")) == 4


def test_a_sheet_that_was_changed_by_hand_leaves_no_readings_in_a_history_made_again(busy_room):
    room, site = busy_room, str(busy_room.root)
    away(room)
    changed = next(room.folder("1").glob("1*.csv"))
    changed.write_bytes(changed.read_bytes().replace(b"50.8", b"51.8"))
    room.call("history", "rebuild", "--site", site)
    jobs = rows(room, "sheets.job", "negatives join sheets on sheets.id = sheet_id")
    assert ("1",) not in jobs
    assert ("2",) in jobs


def test_verify_finds_the_first_event_that_was_altered(busy_room):
    room, site = busy_room, str(busy_room.root)
    assert "unbroken" in room.call("history", "verify", "--site", site).stdout
    with closing(sqlite3.connect(room.root / "state/history.sqlite")) as database, database:
        for (name,) in database.execute(
            "select name from sqlite_master where type = 'trigger'"
        ).fetchall():
            database.execute(f"drop trigger {name}")
        database.execute("update events set document = replace(document, 'held', 'approved')")
    assert "broken at event" in room.call("history", "verify", "--site", site, expect=1).stdout


def test_a_backup_is_a_history_of_its_own_and_never_overwrites(busy_room, tmp_path):
    room, site = busy_room, str(busy_room.root)
    target = tmp_path / "copy.sqlite"
    room.call("history", "backup", str(target), "--site", site)
    with closing(sqlite3.connect(target)) as database:
        assert database.execute("select count(*) from verdicts").fetchone() == (5,)
    assert (
        "there already"
        in room.call("history", "backup", str(target), "--site", site, expect=2).stderr
    )


def test_an_export_is_a_table_in_which_no_cell_begins_a_formula(room, sheet):
    room.drop("evil.csv", sheet(job="=HYPERLINK(1)"))
    room.sweep()
    text = room.call("history", "export", "--site", str(room.root)).stdout
    (row,) = csv.DictReader(io.StringIO(text))
    assert row["job"] == "'=HYPERLINK(1)"
    assert row["decision"] == "approved"


def test_the_daemon_fills_a_history_that_was_deleted(busy_room, wait_for):
    room = busy_room
    before = rows(room, "ticket, decision")
    away(room)
    with room.daemon():
        wait_for((room.root / "state/history.sqlite").exists)
    assert rows(room, "ticket, decision") == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--workflow", "liqid-plate"), 'no workflow is called "liqid-plate"'),
        (("--customer", "Penyroyal"), 'the nearest known one is "Pennyroyal Preserves"'),
    ],
)
def test_a_name_that_neither_rules_nor_history_know_is_a_slip_of_the_call(busy_room, words, says):
    done = busy_room.call("jobs", *words, "--site", str(busy_room.root), expect=2)
    assert says in done.stderr


def test_jobs_of_a_customer_whose_file_has_gone_are_listed_by_the_name_in_the_history(busy_room):
    room, site = busy_room, str(busy_room.root)
    (room.root / "customers/pennyroyal.yaml").unlink()
    assert "1 job: 1 HELD" in (
        room.call("jobs", "--customer", "Pennyroyal Preserves", "--site", site).stdout
    )
    other_case = room.call("jobs", "--customer", "quillmark CARTONS", "--site", site).stdout
    assert "2 jobs: 2 approved" in other_case


def test_a_list_that_was_cut_says_so(busy_room):
    cut = busy_room.call("jobs", "--limit", "2", "--site", str(busy_room.root)).stdout
    assert cut.endswith(
        "2 jobs: 1 HELD, 1 approved\nolder jobs are left out: --limit 20 lists more\n"
    )
    whole = busy_room.call("jobs", "--limit", "3", "--site", str(busy_room.root)).stdout
    assert "left out" not in whole
