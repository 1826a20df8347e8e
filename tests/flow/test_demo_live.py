"""The demo as a morning: the same jobs, one by one, and board and page that follow."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from gatekeeper.cli.base import run
from gatekeeper.cli.entry import gatekeeper
from gatekeeper.demo.live import Morning
from gatekeeper.demo.week import read_table
from gatekeeper.site import read_site


def test_each_job_of_the_morning_ends_as_the_table_says_and_is_a_line_in_a_pipe(tmp_path, capsys):
    root = tmp_path / "site"
    assert run(gatekeeper, ["demo", "--live", "--pace", "0", str(root)]) == 0
    lines = capsys.readouterr().out.splitlines()
    told = [line.split()[:2] for line in lines if line.startswith(("HELD      ", "approved  "))]
    site = read_site(root)
    _, drops = read_table(site)
    expected = [(entry.decision, entry.job) for entries in drops for entry in entries]
    told = told[: len(expected)]  # behind them stands the list of where each job is now
    last = {job: word.casefold() for word, job in told}
    assert last == {job: decision for decision, job in expected}  # a later drop of a job counts
    assert [job for _, job in told] == [job for _, job in expected]
    page = (site.state / "page/index.html").read_text("utf-8")
    held = sum(decision == "held" for decision in last.values())
    waiting = int(re.search(r"HELD</strong> · (\d+) waiting", page)[1])
    assert f"<strong>{held - waiting} HELD</strong>" in page
    assert "the gate was stopped" in page
    assert lines[-1].strip() == (site.state / "page/index.html").as_uri()


def test_companions_are_seen_to_wait_for_their_sheet(tmp_path):
    morning = Morning(tmp_path / "site", pace_s=0)
    seen = []

    def told(job):
        if job.job == "1041":
            seen.extend(
                path.name for path in (morning.site.approved / "liquid-plate/1041").iterdir()
            )
        morning.stop()

    morning.play(told, stays=False)
    assert {"1041.csv", "1041.svg"} <= set(seen)
    assert len(morning.outcome.filed) == 1  # stopped after the job in hand


def held(screen):
    """How many jobs the board says are held."""
    found = re.search(r"([0-9]+) HELD", screen)
    return int(found[1]) if found else 0


@pytest.mark.skipif(
    shutil.which("tmux") is None, reason="tmux is not installed: it is the terminal"
)
def test_on_a_terminal_the_board_follows_until_q(tmp_path, wait_for):
    name = f"gatekeeper-demo-{os.getpid()}"
    site = tmp_path / "site"

    def tmux(*words):
        command = ["tmux", "-L", name, *words]
        return subprocess.run(command, capture_output=True, text=True, check=False).stdout

    words = [sys.executable, "-m", "gatekeeper", "demo", "--live", "--pace", "0.3", str(site)]
    tmux("-f", os.devnull, "new-session", "-d", "-x", "80", "-y", "24", *words)
    try:
        wait_for(lambda: held(tmux("capture-pane", "-p")) >= 1)
        assert "gate at work" in tmux("capture-pane", "-p")
        # Jobs may arrive faster than a busy machine is looked at: it is at least so many.
        wait_for(lambda: held(tmux("capture-pane", "-p")) >= 3)
        present = json.loads(Path(site / "state/now.json").read_bytes())
        assert present["at"].startswith("2026-11-25T08:")
        tmux("send-keys", "q")
        wait_for(lambda: not tmux("list-sessions"))
    finally:
        tmux("kill-server")
