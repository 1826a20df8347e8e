"""Plate rooms that keep their history on one server: the real commands, the real server."""

from __future__ import annotations

import json

import pytest

from gatekeeper.history import EventKind, Wait
from gatekeeper.service import Service
from gatekeeper.site import read_site
from gatekeeper.workshop import history_of


@pytest.fixture
def room(room, server_url):
    """The site of these tests, with its history on the server."""
    settings = room.root / "site.yaml"
    settings.write_text(f"{settings.read_text()}\nhistory: {server_url}\n")
    return room


def told(room, *words):
    return json.loads(room.call(*words, "--json", "--site", str(room.root)).stdout)


def test_a_job_is_judged_recorded_and_listed(room, sheet):
    room.drop("1041.csv", sheet())
    room.sweep()
    assert [line["job"] for line in told(room, "jobs")] == ["1041"]
    assert told(room, "history", "verify")["broken"] is None
    assert room.call("doctor", "--site", str(room.root), expect=None).stdout.count("history") > 0
    assert "1041" in room.call("why", "1041", "--site", str(room.root)).stdout


def test_while_the_server_is_away_the_gate_goes_on_and_tells_it_all_once(
    room, sheet, postgres_server
):
    room.drop("1041.csv", sheet())
    room.sweep()
    postgres_server.stop()
    try:
        for job in ("1042", "1043"):
            room.drop(f"{job}.csv", sheet(job=job, operator=job))
        said = room.sweep(expect=None)
        assert room.decision("1042") == room.decision("1043") == "approved"
        assert "the history is away" in said.stdout + said.stderr
        notes = room.verdict("1042")["notes"]
        assert any("the history is away" in note for note in notes)
        words = room.call("doctor", "--site", str(room.root), expect=None).stdout
        assert "server is away" in words
        assert "2 verdicts" in words
        assert "server is away" in room.call("jobs", "--site", str(room.root), expect=2).stderr
        assert room.call("why", "1042", "--site", str(room.root)).code == 0
        seen = room.call("board", "--site", str(room.root), expect=None).stdout
        assert "the history is away" in seen
    finally:
        postgres_server.start()
    room.sweep()
    assert not list((room.root / "state" / "outbox").iterdir())
    assert [line["job"] for line in told(room, "jobs")][-1] == "1041"
    assert {line["job"] for line in told(room, "jobs")} == {"1041", "1042", "1043"}
    report = told(room, "history", "verify")
    assert report["broken"] is None
    room.call("history", "rebuild", "--site", str(room.root))
    assert told(room, "history", "verify") == report  # nothing was told twice


def test_daemon_that_starts_before_its_server_fills_the_history_from_the_folders(
    room, sheet, postgres_server
):
    shared = (room.root / "site.yaml").read_text()
    (room.root / "site.yaml").write_text(shared[: shared.rindex("\nhistory:")])
    room.drop("1041.csv", sheet())
    room.sweep()  # recorded in a file of the room's own, before it shared the server
    (room.root / "site.yaml").write_text(shared)
    site = read_site(room.root)
    service = Service(site)
    history = service.rounds.ledger.history = history_of(site, service.clock, Wait(pause_s=0))
    postgres_server.stop()
    service.rounds.ledger.note(EventKind.START, site.gate, {})
    service.refill.look()
    assert service.rounds.go().alarms
    postgres_server.start()
    assert not service.rounds.go().alarms
    service.refill.go()
    assert [line.job for line in history.jobs()] == ["1041"]
    history.close()


def test_upgrade_says_that_a_server_is_shared(room):
    said = room.call("history", "upgrade", "--site", str(room.root), expect=2).stderr
    assert "--copied" in said
    said = room.call("history", "upgrade", "--copied", "--site", str(room.root)).stdout
    assert "nothing to do" in said


def test_rooms_that_share_a_history_are_listed_together_or_one_by_one(room, sheet, tmp_path):
    other = type(room)(tmp_path / "south")
    other.call("init", str(other.root))
    (other.root / "site.yaml").write_text((room.root / "site.yaml").read_text())
    for where, job in ((room, "1041"), (other, "2041")):
        where.drop(f"{job}.csv", sheet(job=job, operator=job))
        where.sweep()
    (name,) = {line["room"] for line in told(other, "jobs")}
    assert [line["job"] for line in told(room, "jobs")] == ["1041"]
    assert [line["job"] for line in told(room, "jobs", "--room", name)] == ["2041"]
    assert {line["job"] for line in told(room, "jobs", "--all-rooms")} == {"1041", "2041"}
    assert "2041" in room.call("jobs", "--all-rooms", "--site", str(room.root)).stdout
    seen = told(room, "trend", "--all-rooms")
    assert [entry["room"] for entry in seen["rooms"]][1] == name  # its own comes first
    for entry in seen["rooms"]:  # the other's charts too, by what its verdicts recorded
        (solid,) = (one for one in entry["series"] if one["quantity"] == "solid")
        assert (solid["stock"], solid["tolerance_lower"]) == ("matte-5mil", 2.7)
    (only,) = told(room, "trend", "--room", name)["rooms"]
    assert only["room"] == name
    (lot,) = seen["film_lots"]
    assert (lot["lot"], len(lot["rooms"]), lot["held"]["whole"]) == ("M5-0317", 2, 2)
    text = room.call("trend", "--all-rooms", "--site", str(room.root)).stdout
    assert "film lots in 2 rooms" in text
    assert f"\n{name}\n====" in text
    said = room.call("jobs", "--room", "nowhere", "--site", str(room.root), expect=2).stderr
    assert "no room in this history is called" in said
