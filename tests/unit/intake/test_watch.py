"""What was heard from a folder, by the real inotify."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from watchdog.observers.inotify_c import InotifyConstants

from gatekeeper.intake.watch import Watcher

PATIENCE_S = 20.0


class Listening:
    def __init__(self):
        self.woken = threading.Event()
        self.watcher = Watcher(self.woken.set)

    def wait(self):
        assert self.woken.wait(PATIENCE_S)
        self.woken.clear()


def asked_of_the_kernel(folder):
    """Return the mask of each watch that this process has on a folder, as in proc_pid_fdinfo(5)."""
    inode = folder.stat().st_ino
    lines = [
        line.split()
        for info in Path("/proc/self/fdinfo").iterdir()
        for line in (info.read_text().splitlines() if info.exists() else ())
        if line.startswith("inotify ")
    ]
    words = [dict(word.partition(":")[::2] for word in line[1:]) for line in lines]
    return [int(found["mask"], 16) for found in words if int(found["ino"], 16) == inode]


@pytest.fixture
def listening():
    found = Listening()
    yield found
    found.watcher.stop()


def test_each_event_changes_what_was_heard_from_its_folder_only(listening, tmp_path):
    one, other = tmp_path / "one", tmp_path / "other"
    one.mkdir()
    other.mkdir()
    watcher = listening.watcher
    assert watcher.heard(one) is None
    watcher.follow([one, other])
    before = watcher.heard(one), watcher.heard(other)
    assert None not in before
    file = one / "1041.csv"
    file.write_text("job,1041")
    listening.wait()
    assert watcher.heard(one) != before[0]
    assert watcher.heard(other) == before[1]


def test_a_file_written_over_is_heard_of_when_it_is_closed(listening, tmp_path):
    file = tmp_path / "1041.csv"
    file.write_text("job,1041")
    listening.watcher.follow([tmp_path])
    before = listening.watcher.heard(tmp_path)
    with file.open("r+") as handle:
        handle.write("job,1042")
    listening.wait()
    assert listening.watcher.heard(tmp_path) != before


def test_a_folder_that_nobody_listened_to_for_a_while_has_another_mark(listening, tmp_path):
    watcher = listening.watcher
    watcher.follow([tmp_path])
    before = watcher.heard(tmp_path)
    watcher.follow([tmp_path])
    assert watcher.heard(tmp_path) == before
    watcher.follow([])
    assert watcher.heard(tmp_path) is None
    watcher.follow([tmp_path])
    assert watcher.heard(tmp_path) not in {None, before}


def test_names_that_come_are_heard_of_and_names_that_go_are_not(listening, tmp_path):
    watched, outside = tmp_path / "watched", tmp_path / "outside"
    watched.mkdir()
    outside.mkdir()
    (watched / "1041.csv").write_text("job,1041")
    watcher = listening.watcher
    watcher.follow([watched])
    before = watcher.heard(watched)
    (watched / "1041.csv").rename(outside / "1041.csv")  # as a claim does
    assert watcher.heard(watched) == before
    # Heard of, it would hold back what follows it: so the kernel must not be asked for it.
    (mask,) = asked_of_the_kernel(watched)
    assert mask & InotifyConstants.IN_MOVED_TO
    assert not mask & InotifyConstants.IN_MOVED_FROM
    (outside / "1041.csv").rename(watched / "1042.csv")
    listening.wait()
    assert watcher.heard(watched) != before


def test_a_rename_within_the_folder_is_heard_of(listening, tmp_path):
    part = tmp_path / "1041.csv.part"
    part.write_text("job,1041")
    listening.watcher.follow([tmp_path])
    part.rename(tmp_path / "1041.csv")
    listening.wait()
