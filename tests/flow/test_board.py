"""The board in a real terminal, in a pipe, and without a history."""

import os
import shutil
import subprocess
import sys
from contextlib import contextmanager

import pytest

needs_tmux = pytest.mark.skipif(
    shutil.which("tmux") is None, reason="tmux is not installed: it plays the terminal"
)


THIN = (
    "clear,,0.00,,,left",
    "solid,,2.11,,,left",
    "solid,,2.08,,,centre",
    "solid,,2.10,,,right",
    "tint,50,,50.8,,centre",
)


class Terminal:
    """A terminal of 80 by 24 with the board in it."""

    def __init__(self, name):
        self.name = name

    def tmux(self, *words):
        done = subprocess.run(
            ["tmux", "-L", self.name, *words], capture_output=True, text=True, check=False
        )
        return done.stdout

    def screen(self):
        return self.tmux("capture-pane", "-p")

    def keys(self, *keys):
        self.tmux("send-keys", *keys)

    def is_open(self):
        return bool(self.tmux("list-sessions"))


@contextmanager
def board_in_terminal(room, *options):
    terminal = Terminal(f"gatekeeper-test-{os.getpid()}")
    words = [sys.executable, "-m", "gatekeeper", "--site", str(room.root), "board", *options]
    terminal.tmux("-f", os.devnull, "new-session", "-d", "-x", "80", "-y", "24", *words)
    try:
        yield terminal
    finally:
        terminal.tmux("kill-server")


@needs_tmux
def test_a_hold_and_an_approval_are_followed_in_a_real_terminal(room, sheet, wait_for):
    with board_in_terminal(room) as terminal:
        wait_for(lambda: "NOTHING IS JUDGED" in terminal.screen())
        with room.daemon():
            wait_for(lambda: "Nothing is held." in terminal.screen())
            room.drop("1041.csv", sheet(rows=THIN))
            wait_for(lambda: "HELD 1041" in terminal.screen())
            wait_for(lambda: " 1 HELD   0 waiting   0 approved" in terminal.screen())
            assert "WHY  the solid is too thin" in terminal.screen()
            assert "DO   " in terminal.screen()
            room.drop("1041-b.csv", sheet())
            wait_for(lambda: " 0 HELD   0 waiting   1 approved" in terminal.screen())
            assert "approved  1041" in terminal.screen()
        wait_for(lambda: "GATE NOT AT WORK" in terminal.screen())
        terminal.keys("q")
        wait_for(lambda: not terminal.is_open())


@needs_tmux
def test_a_long_list_turns_by_a_key_and_the_newest_job_stays(room, sheet, wait_for):
    for job in range(1, 9):
        room.drop(f"{job}.csv", sheet(job=str(job), customer="Nobody & Sons"))
    room.sweep()
    with board_in_terminal(room, "--turn", "0") as terminal:
        wait_for(lambda: "screen 1 of" in terminal.screen())
        first = terminal.screen()
        newest = next(line for line in first.splitlines() if "HELD" in line[1:8])
        terminal.keys("Space")
        wait_for(lambda: "screen 2 of" in terminal.screen())
        assert newest in terminal.screen()
        terminal.keys("Up")
        wait_for(lambda: terminal.screen() == first)


def test_in_a_pipe_the_board_is_one_plain_snapshot(room, sheet):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    done = subprocess.run(
        [sys.executable, "-m", "gatekeeper", "--site", str(room.root), "board"],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii", "FORCE_COLOR": ""},
        stdin=subprocess.DEVNULL,
    )
    assert "\x1b" not in done.stdout
    assert "HELD 1041" in done.stdout
    assert "WHY  no customer is called" in done.stdout
    assert all(line == line.rstrip() for line in done.stdout.splitlines())


def test_without_a_history_the_held_folders_are_the_record(room, sheet):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    for file in (room.root / "state").glob("history.sqlite*"):
        file.unlink()
    said = room.call("board", "--site", str(room.root)).stdout
    assert "1 HELD" in said
    assert "HELD 1041" in said
    (room.root / "state/history.sqlite").write_bytes(b"no database at all, but a file" * 99)
    said = room.call("board", "--site", str(room.root)).stdout
    assert "the history is away" in said
    assert "HELD 1041" in said
    assert "? approved" in said


def test_looking_writes_nothing(room, sheet):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()

    def files():
        return {
            path: path.stat().st_mtime_ns
            for path in room.root.rglob("*")
            if path.is_file() and path.suffix not in {".sqlite-shm", ".sqlite-wal"}
        }

    before = files()
    room.call("board", "--site", str(room.root))
    assert files() == before


@pytest.mark.parametrize(("locale", "sign"), [("C", " # HELD 1041"), ("C.UTF-8", " ■ HELD 1041")])
def test_a_locale_without_utf_8_gets_signs_that_every_terminal_has(room, sheet, locale, sign):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    own = {
        name: text for name, text in os.environ.items() if not name.startswith(("LC_", "PYTHON"))
    }
    done = subprocess.run(
        [sys.executable, "-m", "gatekeeper", "--site", str(room.root), "board"],
        capture_output=True,
        encoding="utf-8",
        check=True,
        env={**own, "LANG": locale, "TERM": "xterm"},
    )
    assert sign in done.stdout
