"""The real program, killed at random moments and at system calls, and refused by the disk.

A sweep of the mixture makes some 560 calls that change the disk and 2,000 others on the site's
files. `GATEKEEPER_CRASH=whole` kills it 1,000 times: once at each change, else at any call; and has
1,000 calls fail for each error. That takes an hour and more; `GATEKEEPER_CRASH=300` does so many.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
from itertools import islice
from typing import TYPE_CHECKING

import pytest
from calls import Call, Tracer
from forks import CHECKOUT, Forks
from plate_room import ENVIRONMENT, GOOD, WEAK, PlateRoom, sheet

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ASKED = os.environ.get("GATEKEEPER_CRASH", "")
TIMES = 1000 if ASKED == "whole" else int(ASKED or 2)
MOMENTS = max(TIMES // 5, 2)

REFUSALS = {
    "ENOSPC": {
        *("mkdir", "openat", "write", "pwrite64", "fsync", "fdatasync", "syncfs", "renameat2"),
        "link",
    },
    "EIO": {
        *("mkdir", "rmdir", "openat", "write", "pwrite64", "ftruncate", "fsync", "fdatasync"),
        *("syncfs", "renameat2", "link", "unlink", "read", "pread64", "newfstatat", "getdents64"),
        "statfs",
    },
    "EACCES": {"mkdir", "rmdir", "openat", "renameat2", "link", "unlink", "newfstatat"},
}
"""The errors that a disk or a share gives, and the calls that may give them."""

FOR_GOOD = {"mkdir", "write", "fsync", "renameat2", "unlink"}
"""Calls that the program can do without, so that every one from there on may fail."""

STRACE = shutil.which("strace")


def begin(room: PlateRoom) -> subprocess.Popen:
    """Begin a sweep by the program as people call it."""
    return subprocess.Popen(
        [
            sys.executable,
            "-m",
            "gatekeeper",
            "--site",
            str(room.site.root),
            "sweep",
            "--settle",
            "0",
        ],
        env=ENVIRONMENT,
        cwd=CHECKOUT,
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


@pytest.fixture(scope="session")
def forks(pattern, tmp_path_factory):
    """The program, loaded once for all runs."""
    site = tmp_path_factory.mktemp("forks") / "site"
    shutil.copytree(pattern, site)
    forks = Forks(site, ENVIRONMENT)
    yield forks
    forks.close()


@pytest.fixture(scope="session")
def tracer(forks) -> Tracer:
    if STRACE is None:
        pytest.skip("strace is not installed")
    return Tracer(STRACE, forks)


@pytest.fixture(scope="session")
def calls(begun, tracer, tmp_path_factory) -> list[Call]:
    """What a sweep of the mixture asks of the system."""
    room = copy_of(begun, tmp_path_factory.mktemp("traced"))
    drop_a_mixture(room)
    found = tracer.calls(room)
    if not found:
        pytest.skip("strace may not trace here")
    room.require_sound()
    assert len(found) > 1000
    return found


def copy_of(begun: PlateRoom, folder: Path) -> PlateRoom:
    room = PlateRoom.copy_of(begun.site.root, folder / "site")
    room.dropped, room.sheets = list(begun.dropped), begun.sheets
    return room


def require_recovery(room: PlateRoom, forks: Forks, undisturbed: dict[str, str], what: str) -> None:
    process = forks.begin(room.site.root, room.site.root.parent / "said-at-last")
    os.kill(process, signal.SIGCONT)
    try:
        assert forks.end(process) == 0
        room.require_sound()
        room.require_outcome(undisturbed)
    except AssertionError as error:
        error.add_note(f"after {what}")
        raise
    shutil.rmtree(room.site.root.parent)


def some_of(calls: list[Call], dice: random.Random) -> Iterator[Call]:
    """Yield every call that changes the disk in some order, every other time any call at all."""
    changing = [call for call in calls if call.changes]
    dice.shuffle(changing)
    for call in changing:
        yield call
        if dice.random() * len(changing) < TIMES - len(changing):
            yield dice.choice(calls)
    while True:
        yield dice.choice(calls)


@pytest.mark.timeout(7200)
def test_program_killed_at_random_moments_files_everything_once(
    begun, undisturbed, forks, tmp_path, tally
):
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
            tally["kills at a random moment"] += process.wait() < 0
        require_recovery(room, forks, undisturbed, f"kills after {moments} s")


@pytest.mark.timeout(14400)
def test_program_killed_at_a_system_call_files_everything_once(
    begun, undisturbed, forks, tracer, calls, tmp_path, tally
):
    dice = random.Random(42)  # noqa: S311 -- the same dice each time
    killed = 0
    for number, call in enumerate(islice(some_of(calls, dice), TIMES)):
        room = copy_of(begun, tmp_path / str(number))
        drop_a_mixture(room)
        ended = tracer.struck(room, call, f"signal=SIGKILL:when={call.nth}")
        killed += ended.was_struck
        tally["kills at a system call"] += ended.was_struck
        require_recovery(room, forks, undisturbed, f"a kill at {call}")
    assert killed > 0.9 * TIMES


@pytest.mark.timeout(14400)
@pytest.mark.parametrize("error", REFUSALS)
def test_program_that_the_disk_refuses_files_everything_once(
    error, begun, undisturbed, forks, tracer, calls, tmp_path, tally
):
    dice = random.Random(error)  # noqa: S311 -- the same dice each time
    refused = 0
    open_to = [call for call in calls if call.name in REFUSALS[error]]
    for number, call in enumerate(islice(some_of(open_to, dice), TIMES)):
        room = copy_of(begun, tmp_path / str(number))
        drop_a_mixture(room)
        for_good = dice.choice(("", "+")) if call.name in FOR_GOOD else ""
        ended = tracer.struck(room, call, f"error={error}:when={call.nth}{for_good}")
        refused += ended.was_struck
        tally[f"calls refused with {error}"] += ended.was_struck
        what = f"{error} from {call}{for_good}: exit {ended.status}, {ended.says}"
        assert "Traceback" not in ended.says, what
        if ended.status == 0:
            assert room.decisions() == undisturbed, what
        require_recovery(room, forks, undisturbed, what)
    assert refused > 0.9 * TIMES
