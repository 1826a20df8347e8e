from __future__ import annotations

import errno
import fcntl
import os

import pytest

from gatekeeper.filing.tickets import Identity
from gatekeeper.intake.scan import Group
from gatekeeper.intake.settle import EMPTY_S, Settler, someone_writes


def group(*sizes, key="1041"):
    files = tuple(Identity(f"{key}.{n}", size, 1, n) for n, size in enumerate(sizes))
    return Group(key, key, files)


@pytest.fixture
def settler() -> Settler:
    return Settler(settle_s=2.0, unended_s=10.0)


def rest(settler, looked_at, now, *, whole=True) -> float:
    settler.look("drop", (looked_at,), now)
    return settler.rests_in("drop", looked_at, now, whole=whole)


def test_group_is_taken_after_its_rest_and_two_looks(settler):
    assert rest(settler, group(5), 0.0) == 2.0
    assert rest(settler, group(5), 1.5) == 0.5
    assert rest(settler, group(5), 2.0) == 0.0


def test_one_look_is_not_enough_however_long_ago(settler):
    settler.look("drop", (group(5),), 0.0)
    assert settler.rests_in("drop", group(5), 100.0, whole=True) > 0


def test_change_of_any_file_begins_the_rest_anew(settler):
    rest(settler, group(5, 7), 0.0)
    assert rest(settler, group(5, 8), 1.9) == 2.0
    assert rest(settler, group(5, 8, 1), 3.8) == 2.0
    assert rest(settler, group(5, 8, 1), 5.8) == 0.0


def test_group_that_was_gone_in_between_begins_anew(settler):
    rest(settler, group(5), 0.0)
    settler.look("drop", (), 1.0)
    assert rest(settler, group(5), 2.5) == 2.0


def test_folders_are_told_apart(settler):
    rest(settler, group(5), 0.0)
    settler.look("other", (), 1.0)
    assert rest(settler, group(5), 2.0) == 0.0


def test_sheet_without_its_end_rests_longer(settler):
    rest(settler, group(5), 0.0, whole=False)
    assert rest(settler, group(5), 2.0, whole=False) == 8.0
    assert rest(settler, group(5), 10.0, whole=False) == 0.0


def test_empty_file_rests_a_long_time_and_not_for_ever(settler):
    rest(settler, group(5, 0), 0.0)
    assert rest(settler, group(5, 0), 10.0) == EMPTY_S - 10.0
    assert rest(settler, group(5, 0), EMPTY_S) == 0.0


def test_no_rest_still_asks_for_two_looks():
    settler = Settler(settle_s=0.0, unended_s=10.0)
    assert 0 < rest(settler, group(5), 0.0, whole=False) < 0.1
    assert rest(settler, group(5), 0.01, whole=False) == 0.0


def test_file_that_is_open_for_writing_is_being_written(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"bytes")
    assert not someone_writes(path)
    with path.open("ab"):
        assert someone_writes(path)
    assert not someone_writes(path)


@pytest.mark.parametrize("number", [errno.EACCES, errno.EBUSY, errno.ETXTBSY])
def test_file_that_may_not_be_opened_yet_is_being_written(tmp_path, monkeypatch, number):
    def refuse(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "open", refuse)
    assert someone_writes(tmp_path / "x")


def test_file_that_is_gone_is_written_by_nobody(tmp_path):
    assert not someone_writes(tmp_path / "x")


def test_where_leases_are_not_to_be_had_rest_must_do(tmp_path, monkeypatch):
    path = tmp_path / "x"
    path.touch()

    def refuse(*_):
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(fcntl, "fcntl", refuse)
    assert not someone_writes(path)
