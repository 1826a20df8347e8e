"""Meter checks through the gate: a failed one lists just the jobs that it puts in doubt."""

from __future__ import annotations

import json
import os
import pwd
from datetime import timedelta

import pytest

from gatekeeper.clock import SystemClock
from gatekeeper.room import read_book
from gatekeeper.screens.morning import digest_of
from gatekeeper.site import read_site

GOOD = ("clear,0.05,A", "solid,1.49,B", "solid,2.94,C")
BAD = ("clear,0.05,A", "solid,1.60,B", "solid,2.94,C")


def check(measured, rows=GOOD, meter="T-04"):
    head = f"sheet,meter check\nmeter,{meter}\noperator,JV\nmeasured,{measured}\n"
    return head + "\npatch,density,where\n" + "\n".join(rows) + "\n"


@pytest.fixture
def call(room):
    settings = room.root / "site.yaml"
    lead = pwd.getpwuid(os.getuid()).pw_name
    settings.write_text(settings.read_text() + f"leads: [{lead}]\n")
    steps = [word for step in ("A=0.05", "B=1.48", "C=2.95") for word in ("--tablet", step)]
    room.call(
        "meters", "set", "T-04", *steps, "--tablet-uncertainty", "0.01", "--site", str(room.root)
    )

    def call_it(*words, expect=0):
        return room.call(*words, "--site", str(room.root), expect=expect)

    return call_it


@pytest.fixture
def doubted(room, call, sheet):
    """A day at the bench: a good check, two jobs, a failed check; and one with another meter."""
    assert call("meters", "list").code == 0
    day = "2026-11-20"
    room.drop("c1.csv", check(f"{day} 07:30"))
    for job, meter, hour in (("11", "T-04", "08"), ("12", "T-04", "09"), ("13", "T-07", "10")):
        times = {"printed": f"{day} {hour}:00", "measured": f"{day} {hour}:30"}
        room.drop(f"{job}.csv", sheet(job=job, meter=meter, **times))
    early = {"printed": f"{day} 06:00", "measured": f"{day} 06:30"}
    room.drop("10.csv", sheet(job="10", **early))
    room.drop("c2.csv", check(f"{day} 16:00", BAD))
    room.sweep()
    return room


def doubts(call, expect=1):
    return json.loads(call("meters", "doubt", "--json", expect=expect).stdout)


def test_a_failed_check_lists_just_the_jobs_it_puts_in_doubt(doubted, call):
    (doubt,) = doubts(call)
    assert doubt["meter"] == "T-04"
    assert [job["job"] for job in doubt["jobs"]] == ["11", "12"]
    said = call("meters", "doubt", expect=1).stdout
    assert "2 approved jobs may have passed wrongly" in " ".join(said.split())
    assert doubted.decision("11") == "approved"


def test_a_check_is_filed_as_a_check_and_its_trend_is_kept(doubted, call):
    shelves = {path.split("/")[1] for path in doubted.jobs_on_disk()}
    assert shelves == {"liquid-plate", "meter-checks"}
    found = json.loads(call("meters", "checks", "t-04", "--json", expect=1).stdout)
    assert [entry["passed"] for entry in found] == [True, False]
    assert found[1]["readings"][1]["en"] == pytest.approx(0.12 / 0.0005**0.5)
    said = call("meters", "checks", "T-04", expect=1).stdout
    assert "FAILED  20 Nov 16:00  B           1.600  1.480      +5.37" in said
    assert "nearest known" in call("meters", "checks", "T-40", expect=2).stderr


def test_doctor_says_that_a_meter_failed_its_check_until_it_is_put_right(doubted, call):
    def said():
        told = json.loads(call("doctor", "--json", expect=1).stdout)
        return [entry for entry in told if entry["subject"] == "meter"]

    (doubt,) = said()
    assert doubt["state"] == "look"
    assert "T-04 failed its check" in doubt["says"]
    assert "2 approved jobs may have passed wrongly" in doubt["says"]
    assert "gatekeeper meters doubt T-04" in doubt["do"]
    call("meters", "set", "T-04", "--calibrated", "2026-11-20")
    doubted.drop("c3.csv", check("2026-11-20 18:00"))
    doubted.sweep()
    assert call("meters", "checks", "T-04").code == 0, "its newest check is good"


def test_the_jobs_in_doubt_are_recalled_by_one_command(doubted, call):
    unnamed = call("meters", "doubt", "--recall", expect=2)
    assert "a recall needs a name" in unnamed.stderr
    call("meters", "doubt", "T-04", "--recall", "--by", "JV", expect=1)
    doubted.sweep(expect=None)
    assert [doubted.decision(job) for job in ("10", "11", "12", "13")] == [
        "approved", "held", "held", "approved",
    ]  # fmt: skip
    assert "failed its check" in (doubted.folder("11") / "report.txt").read_text()


def test_measured_anew_with_a_sound_meter_a_job_is_out_of_doubt(doubted, call, sheet):
    again = {"printed": "2026-11-20 08:00", "measured": "2026-11-20 17:00"}
    doubted.drop("11.csv", sheet(job="11", meter="T-07", **again))
    doubted.sweep()
    (doubt,) = doubts(call)
    assert [job["job"] for job in doubt["jobs"]] == ["12"]


def test_a_second_check_that_passes_lifts_the_doubt(doubted, call):
    doubted.drop("c3.csv", check("2026-11-20 16:20"))
    doubted.sweep()
    assert doubts(call, expect=0) == []
    assert "no meter is in doubt" in call("meters", "doubt").stdout


def test_another_meter_is_not_asked_about(doubted, call):
    assert doubted.decision("13") == "approved"
    assert json.loads(call("meters", "doubt", "T-07", "--json").stdout) == []


def test_a_study_of_two_hands_is_filed_with_the_uncertainty_to_enter(room, call):
    readings = {
        "JV": {"a": (2.90, 2.91), "b": (3.20, 3.21), "c": (2.60, 2.60)},
        "MK": {"a": (2.93, 2.92), "b": (3.23, 3.21), "c": (2.61, 2.62)},
    }
    text = "sheet,meter study\nmeter,T-04\nmeasured,2026-11-20 09:00\n"
    for hand, films in readings.items():
        rows = [f"solid,{value},{film}" for film, values in films.items() for value in values]
        text += f"operator,{hand}\n\npatch,density,where\n" + "\n".join(rows) + "\n\n"
    room.drop("study.csv", text)
    room.sweep()
    (folder,) = (room.root / "approved/meter-studies").iterdir()
    report = " ".join((folder / "report.txt").read_text().split())
    assert "repeatability" in report
    assert "together with the ±0.02 of the register" in report
    assert call("jobs", "--workflow", "meter-studies", "--json").stdout.count('"state"') == 1


def test_a_failed_check_is_an_alarm_on_every_screen_and_once_in_the_digest(
    room, call, sheet, wait_for
):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text().replace("rescan_s: 15", "rescan_s: 1"))
    room.drop("11.csv", sheet(job="11"))
    says = "meter T-04 failed its check on 20 Nov 16:00: since 1 Sep 00:00"

    def alarms():
        now = room.root / "state/now.json"
        return json.loads(now.read_bytes())["alarms"] if now.exists() else []

    with room.daemon():
        wait_for((room.root / "approved/liquid-plate/11/verdict.json").exists)
        wait_for((room.root / "state/now.json").exists)
        assert alarms() == []
        room.drop("c2.csv", check("2026-11-20 16:00", BAD))
        wait_for(alarms)  # a second or two, not the hour until the next look
        assert [alarm.startswith(says) for alarm in alarms()] == [True]
    assert says in " ".join(call("board", expect=None).stdout.split())
    site = read_site(room.root)
    clock = SystemClock()
    digest = digest_of(site, read_book(site), clock.now() - timedelta(days=1), clock)
    assert [doubt.says.startswith(says) for doubt in digest.doubts] == [True]
    assert digest.alarms == ()


def test_a_site_without_history_has_no_doubts(call):
    assert doubts(call, expect=0) == []
