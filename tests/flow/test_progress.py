"""Long work says how far it is to a person at a terminal, and nothing to a pipe."""

import os
import pty
import subprocess
import sys

import pytest

WORK = {
    "jobs filed": ["sweep"],
    "verdicts told": ["history", "rebuild"],
    "rows written": ["history", "export", "--to", "carried"],
    "rows taken up": ["history", "import", "carried"],
    "jobs judged again": ["rules", "try", "edited"],
}


@pytest.fixture
def busy(room, sheet):
    """A room with a job, edited rules, and a history that was carried out and moved away."""
    room.drop("1041.csv", sheet())
    room.sweep()
    room.drop("1042.csv", sheet(job="1042"))
    for kind in ("workflows", "customers"):
        (room.root / "edited" / kind).mkdir(parents=True)
        for path in (room.root / kind).iterdir():
            text = path.read_text("utf-8").replace("2.7", "2.8")
            (room.root / "edited" / kind / path.name).write_text(text, "utf-8")
    return room


def said_on_terminal(root, arguments):
    """Run a command with a terminal for its errors; return what both streams got."""
    master, slave = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-m", "gatekeeper", "--site", str(root), *arguments],
        cwd=root,
        env={**os.environ, "TERM": "xterm", "COLUMNS": "80"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=slave,
        text=True,
        check=False,
    )
    os.set_blocking(master, False)
    with os.fdopen(master, "rb", buffering=0) as terminal:
        os.close(slave)
        shown = b""
        try:
            while part := terminal.read(65_536):
                shown += part
        except OSError:  # the other end is closed
            pass
    return done.stdout, shown.decode()


def said_in_pipe(root, arguments):
    done = subprocess.run(
        [sys.executable, "-m", "gatekeeper", "--site", str(root), *arguments],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout, done.stderr


@pytest.mark.parametrize("what", WORK)
@pytest.mark.parametrize("is_terminal", [True, False])
def test_long_work_shows_its_progress_on_a_terminal_only(busy, what, is_terminal):
    if what == "rows taken up":
        said_in_pipe(busy.root, WORK["rows written"])
        for path in (busy.root / "state").glob("history.sqlite*"):
            path.unlink()
    say = said_on_terminal if is_terminal else said_in_pipe
    printed, shown = say(busy.root, WORK[what])
    assert printed
    assert what not in printed
    assert (what in shown) is is_terminal
    if not is_terminal:
        assert shown == ""
