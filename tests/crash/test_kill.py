"""The real program, killed at random moments and at system calls, and refused by the disk."""

from __future__ import annotations

import contextlib
import os
import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from plate_room import GOOD, WEAK, PlateRoom, sheet

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
MOMENTS = 200 if WHOLE else 2
CALLS = 1000 if WHOLE else 2
REFUSALS = 300 if WHOLE else 2

CHANGING = ("mkdir", "openat", "write", "fsync", "renameat2", "unlink", "rmdir", "pwrite64")
REFUSING = {
    "mkdir": ("ENOSPC", "EIO", "EACCES"),
    "fsync": ("EIO", "ENOSPC"),
    "renameat2": ("EIO", "ENOSPC", "EACCES"),
    "unlink": ("EIO", "EACCES"),
    "write": ("ENOSPC", "EIO"),
}
STRACE = shutil.which("strace")
ENVIRONMENT = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}


def begin(room: PlateRoom, *before: str) -> subprocess.Popen:
    command = [*before, sys.executable, "-m", "gatekeeper", "--site", str(room.site.root)]
    return subprocess.Popen(
        [*command, "sweep", "--settle", "0"],
        env=ENVIRONMENT,
        cwd=Path(__file__).parents[2],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def drop_a_mixture(room: PlateRoom) -> None:
    """Drop a new job, a job measured again, and one of two separations in a folder."""
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.pdf", b"artwork")
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="second"))
    room.drop("1043/k.csv", sheet(GOOD, job="1043", separations="2"))
    room.drop("1043/c.csv", sheet(WEAK, job="1043", separation="cyan", separations="2"))


@pytest.fixture(scope="session")
def begun(pattern, tmp_path_factory):
    """A room in which a job is held already; on a real disk."""
    room = PlateRoom.copy_of(pattern, tmp_path_factory.mktemp("begun") / "site")
    room.drop("1042.csv", sheet(WEAK, job="1042", operator="first"))
    assert begin(room).wait(60) == 0
    return room


@pytest.fixture(scope="session")
def undisturbed(begun, tmp_path_factory):
    """What becomes of the mixture when nothing happens to the program; the real clock decides."""
    room = copy_of(begun, tmp_path_factory.mktemp("undisturbed"))
    drop_a_mixture(room)
    assert begin(room).wait(60) == 0
    room.require_sound()
    return room.decisions()


def copy_of(begun: PlateRoom, folder: Path) -> PlateRoom:
    room = PlateRoom.copy_of(begun.site.root, folder / "site")
    room.dropped, room.sheets = list(begun.dropped), begun.sheets
    return room


def require_recovery(room: PlateRoom, undisturbed: dict[str, str], what: object) -> None:
    try:
        assert begin(room).wait(60) == 0
        room.require_sound()
        room.require_outcome(undisturbed)
    except AssertionError as error:
        error.add_note(f"after {what}")
        raise
    shutil.rmtree(room.site.root)


@pytest.mark.timeout(3600)
def test_program_killed_at_random_moments_files_everything_once(begun, undisturbed, tmp_path):
    dice = random.Random(41)  # noqa: S311 -- the same dice each time
    for number in range(MOMENTS):
        room = copy_of(begun, tmp_path / str(number))
        drop_a_mixture(room)
        moments = [dice.uniform(0.2, 1.2) for _ in range(dice.choice((1, 1, 2, 4)))]
        for moment in moments:
            process = begin(room)
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(moment)
            process.kill()
            process.wait()
        require_recovery(room, undisturbed, moments)


def injected(room: PlateRoom, call: str, fault: str) -> None:
    """Run a sweep in which one system call on the site's own files goes wrong."""
    process = begin(
        room, STRACE, "-f", "-qq", "-o", os.devnull, "-e", f"trace={call}",
        "-e", f"inject={call}:{fault}",
    )  # fmt: skip
    process.wait(120)


@pytest.fixture(scope="session")
def call_counts(begun, tmp_path_factory):
    """How often a sweep of the mixture makes each system call; the first ones load the program."""
    if STRACE is None:
        pytest.skip("strace is not installed")
    folder = tmp_path_factory.mktemp("counted")
    room = copy_of(begun, folder)
    drop_a_mixture(room)
    trace = folder / "trace"
    process = begin(
        room, STRACE, "-f", "-qq", "-o", str(trace), "-e", "trace=" + ",".join(CHANGING)
    )
    if process.wait(120) != 0 or not trace.exists():
        pytest.skip("strace may not trace here")
    lines = trace.read_text(errors="replace").splitlines()
    first: dict[str, int] = {}
    counts: dict[str, int] = dict.fromkeys(CHANGING, 0)
    for line in lines:
        found = re.match(r"\d+\s+(\w+)\(", line)
        if found:
            counts[found[1]] += 1
            if str(room.site.root) in line:
                first.setdefault(found[1], counts[found[1]])
    starts = {call: first.get(call, 1) for call in CHANGING}
    return {call: (starts[call], counts[call]) for call in CHANGING if counts[call]}


@pytest.mark.timeout(7200)
def test_program_killed_at_a_system_call_files_everything_once(
    begun, undisturbed, call_counts, tmp_path
):
    dice = random.Random(42)  # noqa: S311 -- the same dice each time
    for number in range(CALLS):
        room = copy_of(begun, tmp_path / str(number))
        drop_a_mixture(room)
        call = dice.choice(list(call_counts))
        nth = dice.randint(*call_counts[call])
        injected(room, call, f"signal=SIGKILL:when={nth}")
        require_recovery(room, undisturbed, (call, nth))


@pytest.mark.timeout(7200)
def test_program_that_the_disk_refuses_files_everything_once(
    begun, undisturbed, call_counts, tmp_path
):
    dice = random.Random(43)  # noqa: S311 -- the same dice each time
    for number in range(REFUSALS):
        room = copy_of(begun, tmp_path / str(number))
        drop_a_mixture(room)
        call = dice.choice([call for call in REFUSING if call in call_counts])
        error = dice.choice(REFUSING[call])
        nth = dice.randint(*call_counts[call])
        for_good = dice.choice(("", "+"))
        injected(room, call, f"error={error}:when={nth}{for_good}")
        require_recovery(room, undisturbed, (call, error, f"{nth}{for_good}"))
