"""What the real daemon writes into its log."""

import re
import shlex


def lines(path):
    """Return the lines, each as its pairs."""
    return [
        dict(word.partition("=")[::2] for word in shlex.split(line))
        for line in path.read_text().splitlines()
    ]


def ask_for_file(room):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + "log: {file: state/daemon.log}\n")
    return room.root / "state/daemon.log"


def test_each_job_is_one_line_with_its_fields_in_the_file_that_the_site_asks_for(
    room, sheet, wait_for
):
    log = ask_for_file(room)
    with room.daemon():
        room.drop("1.csv", sheet(job="1"))
        room.drop("2.csv", sheet(job="2", meter=None))
        wait_for(lambda: len(room.jobs_on_disk()) == 2)
    told = {line["job"]: line for line in lines(log) if "job" in line}
    assert {line["level"] for line in lines(log)} == {"info"}
    assert len([line for line in lines(log) if "job" in line]) == 2
    assert told["1"]["verdict"] == "approved"
    assert told["2"]["verdict"] == "held"
    assert told["2"]["message"].startswith("2 held: ")
    for job, line in told.items():
        assert line["workflow"] == "liquid-plate"
        assert line["customer"] == "Quillmark Cartons"
        assert line["ticket"] == room.verdict(job)["ticket"]
    printed = (room.root.parent / "daemon.log").read_text()
    assert printed == log.read_text(), "the file holds what standard error was told"


def test_a_fault_that_stands_is_told_once_in_many_rounds(room, wait_for):
    log = ask_for_file(room)
    now = room.root / "state/now.json"
    with room.daemon():
        (room.root / "held").rename(room.root / "away")
        before = wait_for(lambda: "held" in now.read_text() and now.stat().st_mtime_ns)
        wait_for(lambda: now.stat().st_mtime_ns > before)  # at least one more round
        (room.root / "away").rename(room.root / "held")
    alarms = [line["message"] for line in lines(log) if line["level"] == "warning"]
    assert len(alarms) == 1
    assert re.search(r"/held\b", alarms[0])
    assert not [line for line in lines(log) if "job" in line]


def test_a_log_that_cannot_be_written_stops_the_start_and_says_why(room):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + "log: {file: nowhere/daemon.log}\n")
    done = room.call("run", "--site", str(room.root), expect=2)
    assert "the log cannot be written: No such file or directory" in done.stderr
    assert "nowhere/daemon.log" in done.stderr
