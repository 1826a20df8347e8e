"""Other software hears of verdicts: the real daemon, a real command, kills in between."""

import json
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

SCHEMA = json.loads(
    (Path(__file__).parents[2] / "gatekeeper/schemas/event.schema.json").read_bytes()
)


@pytest.fixture
def heard(room):
    """Install a receiver that writes down what it is told; return what it has heard."""
    book = room.root.parent / "heard"
    receiver = room.root.parent / "receiver.py"
    receiver.write_text(
        "import json, os, sys\n"
        f"if os.path.exists({str(book)!r} + '.closed'): sys.exit('the desk is closed')\n"
        f"line = json.dumps([sys.argv[1:], json.load(sys.stdin)])\n"
        f"open({str(book)!r}, 'a').write(line + '\\n')\n"
    )
    settings = room.root / "site.yaml"
    command = json.dumps([sys.executable, str(receiver), "--job={job}", "{decision}"])
    settings.write_text(settings.read_text() + f"tell: {{command: {command}}}\n")

    def lines():
        return [json.loads(line) for line in book.read_text().splitlines()] if book.exists() else []

    return lines


def test_the_daemon_tells_each_verdict(room, sheet, wait_for, heard):
    with room.daemon():
        room.drop("1.csv", sheet(job="1"))
        room.drop("2.csv", sheet(job="-2 --all", meter=None))
        wait_for(lambda: len(heard()) == 2)
        wait_for(lambda: not list((room.root / "state/telling").iterdir()))
    told = {event["job"]: (arguments, event) for arguments, event in heard()}
    assert told["1"][0] == ["--job=1", "approved"]
    assert told["-2 --all"][0] == ["--job=-2 --all", "held"]
    for _, event in told.values():
        Draft202012Validator(SCHEMA).validate(event)
        verdict = json.loads((Path(event["folder"]) / "verdict.json").read_bytes())
        assert verdict["ticket"] == event["ticket"]


def test_a_receiver_that_is_away_holds_up_no_verdict_and_hears_all_later(room, sheet, heard):
    closed = room.root.parent / "heard.closed"
    closed.touch()
    room.drop("1.csv", sheet(job="1"))
    said = room.sweep(expect=1).stderr
    assert room.decision("1") == "approved"
    assert "ALARM: " in said
    assert "it ended with status 1: the desk is closed" in said
    assert heard() == []
    closed.unlink()
    room.drop("2.csv", sheet(job="2"))
    room.sweep()
    assert [event["job"] for _, event in heard()] == ["1", "2"]


def test_a_job_that_changes_sides_is_told_again_with_what_it_was(room, sheet, heard):
    room.drop("1.csv", sheet(job="1"))
    room.sweep()
    room.drop("1.csv", sheet(job="1", printed="2026-11-20 09:41", meter=None))
    room.sweep()
    assert [(event["decision"], event["was"]) for _, event in heard()] == [
        ("approved", ""),
        ("held", "approved"),
    ]


def test_a_site_that_names_no_command_keeps_no_list(room, sheet):
    room.drop("1.csv", sheet(job="1"))
    room.sweep()
    assert not (room.root / "state/telling").exists()
