"""Whether a gate is at work, found without touching its lock."""

import os
import shutil
from pathlib import Path

import pytest

from gatekeeper.errors import RoomError
from gatekeeper.single import AlreadyRunningError, is_at_work, only_one


def test_a_held_lock_is_seen_and_a_free_one_too(tmp_path):
    assert is_at_work(tmp_path, "gate-1") is False
    with only_one(tmp_path, "gate-1"):
        assert is_at_work(tmp_path, "gate-1") is True
        assert is_at_work(tmp_path, "gate-2") is False
    assert is_at_work(tmp_path, "gate-1") is False


def test_looking_never_turns_a_beginning_gate_away(tmp_path):
    (tmp_path / "gate-1.lock").write_text("1\n")
    before = len(list(Path("/proc/self/fd").iterdir()))
    is_at_work(tmp_path, "gate-1")
    assert len(list(Path("/proc/self/fd").iterdir())) == before
    with only_one(tmp_path, "gate-1"):
        pass


def test_a_lock_is_told_by_its_inode_or_its_process(tmp_path):
    lock = tmp_path / "gate-1.lock"
    lock.write_text("4999999\n")  # no process has that number, so none shows what it has open
    table = tmp_path / "locks"
    inode = lock.stat().st_ino
    for line, expected in (
        (f"1: FLOCK  ADVISORY  WRITE 99 00:2a:{inode} 0 EOF", True),
        ("1: FLOCK  ADVISORY  WRITE 4999999 00:2a:1 0 EOF", True),
        (f"1: POSIX  ADVISORY  WRITE 4999999 00:2a:{inode} 0 EOF", False),
        (f"1: -> FLOCK  ADVISORY  WRITE 99 00:2a:{inode} 0 EOF", False),
        ("", False),
    ):
        table.write_text(line + "\n")
        assert is_at_work(tmp_path, "gate-1", table) is expected, line


def test_a_number_that_another_sites_gate_has_by_now_is_no_gate_at_work(tmp_path):
    main, annex = tmp_path / "main", tmp_path / "annex"
    main.mkdir()
    annex.mkdir()
    (main / "gate-1.lock").write_text(f"{os.getpid()}\n")  # left by a crash
    with only_one(annex, "gate-1"):
        assert is_at_work(annex, "gate-1") is True
        assert is_at_work(main, "gate-1") is False


def test_a_system_that_does_not_tell_is_not_taken_for_a_stop(tmp_path):
    (tmp_path / "gate-1.lock").write_text("1\n")
    assert is_at_work(tmp_path, "gate-1", tmp_path / "no such table") is None
    assert is_at_work(tmp_path, "gate-2", tmp_path / "no such table") is None


@pytest.fixture
def state(tmp_path):
    (tmp_path / "state").mkdir()
    return tmp_path / "state"


def test_another_folder_in_the_place_of_the_state_is_not_taken_for_it(state):
    away = state.with_name("away")
    with only_one(state, "gate-1") as lock:
        lock.require()
        state.rename(away)
        with pytest.raises(RoomError, match="is away"):
            lock.require()
        state.mkdir()
        with pytest.raises(RoomError, match="is away"):
            lock.require()
        assert list(state.iterdir()) == []
        state.rmdir()
        away.rename(state)
        lock.require()
        assert is_at_work(state, "gate-1") is True


def test_old_lock_in_the_place_of_the_state_is_not_taken_for_ours(state):
    """A start before the disk was mounted has left one in the bare mount point."""
    with only_one(state, "gate-1") as lock:
        state.rename(state.with_name("away"))
        state.mkdir()
        (state / "gate-1.lock").write_text("4999999\n")
        with pytest.raises(RoomError, match="is away"):
            lock.require()
        assert (state / "gate-1.lock").read_text() == "4999999\n"


def test_state_that_is_back_under_another_devices_number_is_known_by_what_we_wrote(state):
    with only_one(state, "gate-1") as lock:
        shutil.copytree(state, state.with_name("back"))
        shutil.rmtree(state)
        state.with_name("back").rename(state)
        lock.require()
        assert is_at_work(state, "gate-1") is True


def test_lock_that_a_hand_removed_is_made_anew(state):
    with only_one(state, "gate-1") as lock:
        (state / "gate-1.lock").unlink()
        lock.require()
        assert is_at_work(state, "gate-1") is True
        with pytest.raises(AlreadyRunningError), only_one(state, "gate-1"):
            pass
    assert is_at_work(state, "gate-1") is False


def test_second_gate_that_began_without_the_lock_makes_the_first_one_stop(state):
    with only_one(state, "gate-1") as lock:
        (state / "gate-1.lock").unlink()
        with only_one(state, "gate-1"), pytest.raises(AlreadyRunningError):
            lock.require()
        lock.require()
