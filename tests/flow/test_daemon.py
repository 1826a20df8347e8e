"""The real daemon and the ways in which files really arrive."""

import json
import os
import pwd
import shutil
import signal
import socket
import sqlite3
import subprocess
import time
from contextlib import closing

import pytest

from gatekeeper.intake.reading import BROUGHT_DOWN


def tickets(room):
    """How often each job was judged: one verdict file a judgement."""
    return {
        folder.name: len(list(folder.glob("verdict*.json")))
        for state in ("approved", "held")
        for folder in (room.root / state).glob("[!.]*/*")
    }


def test_sheets_are_judged_once_and_whole_however_they_arrive(room, sheet, wait_for, tmp_path):
    drop = room.root / "drop/liquid-plate"
    ready = tmp_path / "ready"
    ready.mkdir()
    for job in ("1", "2", "3"):
        (ready / f"{job}.csv").write_text(sheet(job=job))
    with room.daemon():
        shutil.copy(ready / "1.csv", drop)
        inside = room.root / "2.csv"
        shutil.copy(ready / "2.csv", inside)
        inside.rename(drop / "2.csv")
        expected = {"1", "2", "4"}
        if shutil.which("rsync"):
            subprocess.run(["rsync", "-a", str(ready / "3.csv"), f"{drop}/"], check=True)
            expected.add("3")
        with (drop / "4.csv").open("w") as slow:  # line by line, over several settle times
            for line in sheet(job="4").splitlines(keepends=True):
                slow.write(line)
                slow.flush()
                time.sleep(0.08)
        wait_for(lambda: set(tickets(room)) == expected)
        time.sleep(1.2)  # long enough for a second judgement to show
    assert tickets(room) == dict.fromkeys(expected, 1)
    assert all(room.decision(job) == "approved" for job in expected)
    assert room.work_in_progress() == []


def test_files_that_were_there_before_the_start_are_judged(room, sheet, wait_for):
    room.drop("1041.csv", sheet())
    with room.daemon():
        wait_for(room.jobs_on_disk)
    assert room.decision("1041") == "approved"


def test_a_second_daemon_or_sweep_on_the_same_site_is_refused(room):
    with room.daemon():
        done = room.sweep(expect=2)
        assert "already at work" in done.stderr


def begun_twice(room):
    """Tickets that two starts have begun to read: if both were killed, the third must not."""
    return {path.parent.name for path in (room.root / "drop").rglob("attempt.2")}


def test_killed_at_any_moment_the_next_start_files_every_job_once(room, sheet):
    jobs = [str(number) for number in range(1, 13)]
    for job in jobs:
        room.drop(f"{job}.csv", sheet(job=job))
        room.drop(f"{job}.pdf", f"art of {job}")
    struck_twice = set()
    for pause_s in (0.45, 0.5, 0.6, 0.7):
        with room.daemon() as process:
            time.sleep(pause_s)
            process.send_signal(signal.SIGKILL)
            process.wait(timeout=10)
        struck_twice |= begun_twice(room)
    room.sweep()
    assert tickets(room) == dict.fromkeys(jobs, 1)
    for job in jobs:
        if room.decision(job) == "held":
            verdict = room.verdict(job)
            (finding,) = verdict["findings"]
            assert BROUGHT_DOWN in finding["says"]
            assert verdict["ticket"] in struck_twice
        assert (room.folder(job) / f"{job}.csv").read_text() == sheet(job=job)
        assert (room.folder(job) / f"{job}.pdf").read_text() == f"art of {job}"
    assert room.work_in_progress() == []
    assert [path.name for path in (room.root / "drop/liquid-plate").iterdir()] == [".gatekeeper"]


def test_change_to_come_that_passes_a_floor_is_told_and_stops_no_job(room, sheet, wait_for):
    rules = room.root / "customers/pennyroyal.yaml"
    loose = "all_workflows:\n  changes: [{effective_from: 2999-01-15, solid_density: {min: 2.1}}]\n"
    rules.write_text(f"customer: Pennyroyal Preserves\n{loose}")
    now = room.root / "state/now.json"
    with room.daemon():
        said = json.loads(now.read_bytes())
        assert said["broken_rules"] == []
        assert said["coming_rules"][0].startswith("customers/pennyroyal.yaml:3 from 2999-01-15 on:")
        room.drop("1.csv", sheet(job="1", customer="Pennyroyal Preserves"))
        wait_for(room.jobs_on_disk)
    assert (
        "to mend in time: customers/pennyroyal.yaml:3"
        in (room.root.parent / "daemon.log").read_text()
    )


def test_an_edit_of_the_rules_is_taken_up_and_a_broken_one_makes_its_jobs_wait(
    room, sheet, wait_for
):
    rules = room.root / "workflows/liquid-plate.yaml"
    good = rules.read_text()
    now = room.root / "state/now.json"
    with room.daemon() as process:
        rules.write_text(good.replace("min: 2.70", "min: 2.70 x"))
        wait_for(
            lambda: "liquid-plate.yaml" in "".join(json.loads(now.read_bytes())["broken_rules"])
        )
        room.drop("1.csv", sheet(job="1", customer="Pennyroyal Preserves"))
        wait_for(
            lambda: any(
                "rules" in entry["reason"] for entry in json.loads(now.read_bytes())["waiting"]
            )
        )
        assert room.jobs_on_disk() == []
        told = room.call("doctor", "--site", str(room.root), expect=1).stdout
        assert "workflows/liquid-plate.yaml" in told
        rules.write_text(good.replace("min: 2.70", "min: 3.10"))
        process.send_signal(signal.SIGHUP)
        wait_for(room.jobs_on_disk)
    assert room.holds("1") == ["solid_density.min"]
    with closing(sqlite3.connect(room.root / "state/history.sqlite")) as database:
        told = database.execute("select document from events where kind = 'rules changed'")
        begun, broken, mended = (json.loads(document) for (document,) in told)
    owner = pwd.getpwuid(rules.stat().st_uid).pw_name
    assert broken["files"] == mended["files"] == {"workflows/liquid-plate.yaml": owner}
    assert broken["broken"]
    assert not mended["broken"]
    assert broken["fingerprint_after"] == mended["fingerprint_before"]
    assert broken["fingerprint_before"] != mended["fingerprint_after"]
    pairs = {(entry["workflow"], entry["customer"]) for entry in begun["taken_up"]}
    assert len(pairs) == 30  # five workflows, each for five customers and for none
    assert broken["taken_up"] == []
    assert {entry["workflow"] for entry in mended["taken_up"]} == {"liquid-plate"}
    assert "solid_density.min: 3.1 density" in mended["taken_up"][0]["text"]


def test_a_room_may_choose_the_last_good_rules_and_the_report_says_so(room, sheet, wait_for):
    settings = room.root / "site.yaml"
    settings.write_text(
        settings.read_text().replace("on_broken_rules: wait", "on_broken_rules: last_good")
    )
    rules = room.root / "workflows/liquid-plate.yaml"
    now = room.root / "state/now.json"
    with room.daemon():
        rules.write_text(rules.read_text().replace("min: 2.70", "min: two"))
        wait_for(lambda: json.loads(now.read_bytes())["broken_rules"])
        room.drop("1.csv", sheet(job="1"))
        wait_for(room.jobs_on_disk)
    assert room.decision("1") == "approved"
    assert "last good rules" in (room.folder("1") / "report.txt").read_text()


def test_a_drop_folder_removed_and_made_anew_is_watched_again(room, sheet, wait_for):
    drop = room.root / "drop/liquid-plate"
    with room.daemon():
        shutil.rmtree(drop)
        wait_for(drop.exists)
        room.drop("1.csv", sheet(job="1"))
        wait_for(room.jobs_on_disk)
    assert room.decision("1") == "approved"


def test_an_empty_mount_point_is_no_empty_drop_folder(room, sheet, wait_for):
    now = room.root / "state/now.json"
    away = room.root / "away"
    with room.daemon():
        (room.root / "held").rename(away)
        (room.root / "held").mkdir()
        room.drop("1.csv", sheet(job="1"))
        wait_for(lambda: "held" in "".join(json.loads(now.read_bytes())["alarms"]))
        assert list((room.root / "held").iterdir()) == []
        assert (room.root / "drop/liquid-plate/1.csv").exists()
        (room.root / "held").rmdir()
        away.rename(room.root / "held")
        wait_for(room.jobs_on_disk)
    assert room.decision("1") == "approved"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a POSIX system")
def test_systemd_is_told_when_the_daemon_is_ready_and_when_it_stops(room, sheet, tmp_path):
    for number in range(20):
        room.drop(f"{number}.csv", sheet(job=str(number)))
    address = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(address))
        listener.settimeout(20)
        room.environment |= {"NOTIFY_SOCKET": str(address), "WATCHDOG_USEC": "2000000"}
        with room.daemon():
            heard = ""
            while not all(word in heard for word in ("READY=1", "WATCHDOG=1", "STATUS=")):
                heard += listener.recv(4096).decode() + "\n"
            # A round over many files is no silence: between two of them a sign of life is given.
            assert heard.split("READY=1")[0].count("WATCHDOG=1\nEXTEND_TIMEOUT_USEC=") > 3
            assert " waiting, 0 alarms" in heard
        while "STOPPING=1" not in heard:
            heard += listener.recv(4096).decode() + "\n"
