"""A plate room that can be dropped into, killed, and looked at; see plate_room.py and disks.py.

The usual run takes a sample. `GATEKEEPER_CRASH=whole` runs everything; it takes some hours.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

import pytest

# The folder is no package (tests are imported by path), so its shared modules need this.
sys.path.insert(0, str(Path(__file__).parent))

from plate_room import OPENED, PlateRoom, lay_out_pattern

TALLY = pytest.StashKey[Counter]()
MEMORY = Path("/dev/shm")  # noqa: S108 -- where it is, a filesystem in memory: fsync costs nothing


@pytest.fixture(autouse=True)
def _closed():
    """Let go of what a program that died in this test held open; the system does it otherwise."""
    yield
    while OPENED:
        OPENED.pop().close()


@pytest.fixture(scope="session")
def fast_folder(tmp_path_factory):
    """A folder in memory where there is one; each test that dies a hundred times is glad of it."""
    if not os.access(MEMORY, os.W_OK):
        yield tmp_path_factory.mktemp("rooms")
        return
    folder = Path(tempfile.mkdtemp(prefix="gatekeeper-", dir=MEMORY))
    yield folder
    shutil.rmtree(folder)


@pytest.fixture(scope="session")
def pattern(fast_folder):
    """A site to be copied."""
    return lay_out_pattern(fast_folder / "pattern")


@pytest.fixture
def rooms(pattern, fast_folder):
    """Make rooms, each in a folder of its own."""
    folder = Path(tempfile.mkdtemp(dir=fast_folder))
    made = 0

    def make(**places) -> PlateRoom:
        nonlocal made
        made += 1
        return PlateRoom.copy_of(pattern, folder / f"room-{made}", **places)

    yield make
    shutil.rmtree(folder)


@pytest.fixture
def room(rooms) -> PlateRoom:
    return rooms()


@pytest.fixture
def elsewhere(fast_folder, tmp_path):
    """A folder on another filesystem than the rooms; skipped where there is no other."""
    if tmp_path.stat().st_dev == fast_folder.stat().st_dev:
        pytest.skip("there is only one filesystem to write to")
    return tmp_path


@pytest.fixture(scope="session")
def tally(request) -> Counter:
    """Count what was done to the program; the end of the run says how often."""
    return request.config.stash.setdefault(TALLY, Counter())


def pytest_terminal_summary(terminalreporter, config) -> None:
    """Say how many faults were survived; a fault that fails a test stops that test's count."""
    for what, number in sorted(config.stash.get(TALLY, Counter()).items()):
        terminalreporter.write_line(f"{number:6d} {what}")
