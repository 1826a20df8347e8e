"""What was heard from a folder, by the real inotify."""

from __future__ import annotations

import threading

import pytest

from gatekeeper.intake.watch import Watcher

PATIENCE_S = 20.0


class Listening:
    def __init__(self):
        self.woken = threading.Event()
        self.watcher = Watcher(self.woken.set)

    def wait(self):
        assert self.woken.wait(PATIENCE_S)
        self.woken.clear()


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
