"""The daemon's daily work: caught up after a pause, the digest as a file and as a letter."""

from __future__ import annotations

import json
from contextlib import closing
from email import message_from_bytes
from email.policy import SMTP
from socket import socket
from zoneinfo import ZoneInfo

import pytest
from aiosmtpd.controller import Controller

ZONE = ZoneInfo("Europe/London")
BAD = ("clear,,0.00,,,left", "solid,,1.20,,,left", "solid,,1.20,,,centre", "solid,,1.20,,,right",
       "tint,50,,50.8,,centre")  # fmt: skip


class Inbox:
    def __init__(self):
        self.messages = []

    async def handle_DATA(self, _server, _session, envelope):  # noqa: N802
        self.messages.append(message_from_bytes(envelope.content, policy=SMTP))
        return "250 taken"


@pytest.fixture
def inbox():
    """A mail server on this machine; `port` says where."""
    found = Inbox()
    with closing(socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        found.port = probe.getsockname()[1]
    controller = Controller(found, hostname="127.0.0.1", port=found.port)
    controller.start()
    yield found
    controller.stop()


def missed(room, *tasks):
    """Write into the daemon's notes that these were done last a long time ago."""
    notes = dict.fromkeys(tasks, "2026-01-01T07:00:00+00:00")
    (room.root / "state/upkeep.json").write_text(json.dumps(notes))


def set_up(room, upkeep, mail=""):
    path = room.root / "site.yaml"
    before, _, after = path.read_text().partition("upkeep:\n")
    rest = after.split("\n", 3)[3]
    path.write_text(f"{before}upkeep:\n{upkeep}{rest}\n{mail}")


def test_what_was_missed_is_caught_up_once_at_the_start(room, sheet, wait_for):
    room.drop("1041.csv", sheet(BAD))
    room.sweep()
    missed(room, "digest", "backup")
    digests, backups = room.root / "state/digests", room.root / "state/backups"
    with room.daemon():
        wait_for(lambda: digests.is_dir() and len(list(digests.glob("*.txt"))) == 1)
        wait_for(lambda: backups.is_dir() and list(backups.glob("history-*.sqlite")))
    (text,) = digests.glob("*.txt")
    said = text.read_text()
    assert "1 held" in said.splitlines()[0]
    assert "1041 (liquid-plate, Quillmark Cartons)" in said
    assert "meter T-02" in said
    notes = json.loads((room.root / "state/upkeep.json").read_text())
    assert all(moment > "2026-01-02" for moment in notes.values())
    with room.daemon():
        wait_for((room.root / "state/now.json").exists)
    assert len(list(digests.glob("*.txt"))) == 1


def test_the_digest_goes_out_as_a_letter(room, wait_for, inbox):
    mail = (
        f"mail:\n  server: 127.0.0.1\n  port: {inbox.port}\n  security: none\n"
        "  sender: gate@plates.example\n  recipients: [lead@plates.example]\n"
    )
    set_up(room, '  digest_at: "07:00"\n', mail)
    missed(room, "digest")
    with room.daemon():
        wait_for(lambda: inbox.messages and not list((room.root / "state/letters").iterdir()))
    (message,) = inbox.messages
    assert message["To"] == "lead@plates.example"
    assert message["Subject"].startswith("Ferrybank Plate Room, ")


def test_old_approved_jobs_are_archived_and_still_found_in_the_history(room, sheet, wait_for):
    room.drop("1041.csv", sheet())
    room.sweep()
    room.drop("1042.csv", sheet(BAD, job="1042"))
    room.sweep()
    verdict = room.root / "approved/liquid-plate/1041/verdict.json"
    arrived = json.loads(verdict.read_bytes())["arrived"]
    verdict.write_text(verdict.read_text().replace(arrived, "2026-03-05T09:00:00+00:00"))
    set_up(room, '  archive_at: "23:00"\n  archive_after_days: 30\n')
    missed(room, "archive")
    archived = room.root / "archive/2026/03/liquid-plate/1041"
    with room.daemon():
        wait_for(archived.is_dir)
    assert (archived / "1041.csv").exists()
    assert room.jobs_on_disk() == ["held/liquid-plate/1042"]
    listed = json.loads(room.call("jobs", "--json", "--site", str(room.root)).stdout)
    assert {line["job"] for line in listed} == {"1041", "1042"}
    site = ("--site", str(room.root))
    (room.root / "archive/2026/03/notes.txt").write_text("somebody's")
    assert "APPROVED   job 1041" in room.call("why", "1041", *site).stdout
    elsewhere = room.call("why", "1041", "--workflow", "stencil", *site, expect=2)
    assert "no job" in elsewhere.stderr


def test_a_chore_that_fails_is_on_every_screen(room, wait_for):
    (room.root / "state/backups").write_text("in the way")
    missed(room, "backup")
    now = room.root / "state/now.json"
    with room.daemon():
        wait_for(lambda: "backup: File exists" in json.loads(now.read_bytes())["alarms"])


def test_the_daemon_writes_its_metrics(room, sheet, wait_for):
    room.drop("1041.csv", sheet())
    file = room.root / "state/metrics/gatekeeper.prom"
    with room.daemon():
        wait_for(file.exists)
    text = file.read_text()
    assert 'gatekeeper_due_days{subject="meter T-04"}' in text
    assert "gatekeeper_start_time_seconds" in text


def test_job_that_a_hand_changed_in_approved_is_held_and_told_on_every_screen(
    room, sheet, wait_for
):
    for job in ("1041", "1042"):
        room.drop(f"{job}.csv", sheet(job=job))
    room.sweep()
    file = room.root / "approved/liquid-plate/1041/1041.csv"
    file.write_text(file.read_text().replace("2.88", "2.98"))
    set_up(room, '  digest_at: "07:00"\n')
    missed(room, "digest")
    says = "job 1041: it stood in approved, and its files are not those that were approved"
    now = room.root / "state/now.json"
    with room.daemon():
        wait_for(lambda: now.exists() and says in json.loads(now.read_bytes())["alarms"])
        wait_for(lambda: says in (room.root / "state/page/index.html").read_text())
        board = room.call("board", "--site", str(room.root), expect=None)
    assert "its files are not those" in " ".join(board.stdout.split())
    assert room.decision("1041") == "held"
    assert room.decision("1042") == "approved"
    assert says in (room.root.parent / "daemon.log").read_text()
    assert room.work_in_progress() == []
