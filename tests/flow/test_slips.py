"""Concession and recall: who may, what they do, and what is refused.

ISO 9001:2015, 8.7 asks that a concession is recorded with who authorised it (from memory); the term
is ISO 9000:2015, 3.12.5 (from memory).
"""

import json
import os
import pwd

import pytest

WEAK = [
    "clear,,0.00,,,left",
    *[f"solid,,2.60,,,{where}" for where in ("left", "centre", "right")],
    "tint,50,,50.8,,centre",
]
ME = pwd.getpwuid(os.getuid()).pw_name


@pytest.fixture
def led_room(room):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + f"leads: [{ME}]\n")
    return room


def call(room, *words, expect=0):
    return room.call(*words, "--site", str(room.root), expect=expect)


def release(room, job="1041", expect=0):
    words = ("--by", "Ada Lead", "--reason", "coarse line work, agreed with the customer")
    return call(room, "release", job, *words, expect=expect)


def slips(room):
    return [path.name for path in (room.root / "drop/concessions").glob("[!.]*")]


def test_a_released_job_is_approved_and_says_so_at_the_top_with_who_why_and_what_was_missed(
    led_room, sheet
):
    room = led_room
    room.drop("1041.csv", sheet(WEAK))
    room.drop("1041.pdf", "art")
    room.sweep()
    assert room.decision("1041") == "held"
    release(room)
    room.sweep()
    assert room.decision("1041") == "approved"
    verdict = room.verdict("1041")
    (line,) = json.loads(call(room, "jobs", "--json").stdout)
    for word in ("Ada Lead", ME, "coarse line work", "solid_density.min"):
        assert word in verdict["concession"]
        assert word in line["concession"]
    listed = call(room, "jobs").stdout
    assert "concession: Ada Lead" in listed
    assert "every limit met" not in listed
    head = (room.folder("1041") / "report.txt").read_text()[:700]
    assert "CONCESSION" in head
    assert "Ada Lead" in head
    assert room.holds("1041") == ["solid_density.min"], "what does not conform stays said"
    assert slips(room) == []
    (slip,) = room.folder("1041").glob("concession-*")
    report = (room.folder("1041") / "report.txt").read_text()
    assert f"Slip          {slip.name}\n" in report
    assert "replaced by a newer sheet" not in report
    assert (room.folder("1041") / "1041.pdf").exists()
    assert room.work_in_progress() == []


def test_a_later_sheet_ends_the_concession(led_room, sheet):
    room = led_room
    room.drop("1041.csv", sheet(WEAK))
    room.sweep()
    release(room)
    room.sweep()
    room.drop("again.csv", sheet(WEAK, operator="KL"))
    room.sweep()
    assert room.decision("1041") == "held"
    assert room.verdict("1041")["concession"] is None
    assert room.verdict("1041")["was"] == "approved"


def test_a_recalled_job_is_held_until_a_lead_or_a_new_sheet_decides(led_room, sheet):
    room = led_room
    room.drop("1041.csv", sheet())
    room.sweep()
    call(room, "recall", "1041", "--by", "Ada Lead", "--reason", "wrong artwork")
    room.sweep()
    assert room.decision("1041") == "held"
    assert room.holds("1041") == ["job.recalled"]
    assert "wrong artwork" in (room.folder("1041") / "report.txt").read_text()
    room.drop("again.csv", sheet(operator="KL"))
    room.sweep()
    assert room.decision("1041") == "approved"


def test_a_slip_of_somebody_who_is_no_lead_is_refused_and_recorded(room, sheet):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + "leads: [nobody-here]\n")
    room.drop("1041.csv", sheet(WEAK))
    room.sweep()
    release(room)
    room.sweep()
    assert room.decision("1041") == "held"
    assert room.verdict("1041")["concession"] is None
    (refused,) = (room.root / "held/concessions").iterdir()
    assert ME in (refused / "report.txt").read_text()
    listed = json.loads(call(room, "jobs", "--json").stdout)
    assert any(line["workflow"] == "concessions" for line in listed)


def test_without_leads_nobody_may_release(led_room, sheet):
    room, settings = led_room, led_room.root / "site.yaml"
    room.drop("1041.csv", sheet(WEAK))
    room.sweep()
    release(room)
    settings.write_text(settings.read_text().replace(f"leads: [{ME}]\n", ""))
    assert "nobody may release" in release(room, expect=2).stderr
    room.sweep()
    assert room.decision("1041") == "held"
    report = next((room.root / "held/concessions").rglob("report.txt")).read_text()
    assert "leads" in report
    assert "the job that it names stays as it was" in report
    assert "Make no plate" not in report


def test_a_slip_for_a_job_that_has_changed_since_it_was_read_is_refused(led_room, sheet):
    room = led_room
    room.drop("1041.csv", sheet(WEAK))
    room.sweep()
    release(room)
    room.drop("again.csv", sheet(WEAK, operator="KL"))
    # The sheet is filed first, so that the slip meets another verdict than it was written for.
    slip = next((room.root / "drop/concessions").glob("*.csv"))
    kept = slip.read_bytes()
    slip.unlink()
    room.sweep()
    slip.write_bytes(kept)
    room.sweep()
    assert room.decision("1041") == "held"
    assert "changed" in next((room.root / "held/concessions").rglob("report.txt")).read_text()


def test_a_rule_marked_no_concession_cannot_be_released(led_room, sheet):
    room = led_room
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + "no_concession: [solid_density]\n")
    room.drop("1041.csv", sheet(WEAK))
    room.sweep()
    release(room)
    room.sweep()
    assert room.decision("1041") == "held"
    told = next((room.root / "held/concessions").rglob("report.txt")).read_text()
    assert "solid_density.min" in told


@pytest.mark.parametrize(
    "text",
    [
        "job,1041\n",
        "sheet,concession\njob,1041\nworkflow,liquid-plate\nverdict,0\nby,Ada\nreason,\n",
        "sheet,blessing\njob,1041\nworkflow,liquid-plate\nverdict,0\nby,Ada\nreason,x\n",
        "\x00\x01",
    ],
)
def test_what_is_no_slip_is_refused_and_never_approves(led_room, sheet, text):
    room = led_room
    room.drop("1041.csv", sheet(WEAK))
    (room.root / "drop/concessions/x.csv").write_text(text)
    room.sweep()
    assert room.decision("1041") == "held"
    assert list((room.root / "held/concessions").rglob("report.txt"))


def test_an_approved_job_cannot_be_released_nor_a_held_one_recalled(led_room, sheet):
    room = led_room
    room.drop("1.csv", sheet(job="1"))
    room.drop("2.csv", sheet(WEAK, job="2"))
    room.sweep()
    assert "approved, not held" in release(room, "1", expect=2).stderr
    told = call(room, "recall", "2", "--by", "A", "--reason", "b", expect=2).stderr
    assert "held, not approved" in told
    assert slips(room) == []
