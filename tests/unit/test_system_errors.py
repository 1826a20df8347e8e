"""What to do about an error of the system stands beside what it says."""

import errno
import os
from pathlib import Path

import pytest

from gatekeeper.errors import RoomError
from gatekeeper.rounds.outlook import in_words, says_and_do
from gatekeeper.system_errors import advice, owner_of, place_of, user_name


def failed(number, *names):
    return OSError(number, os.strerror(number), *names)


@pytest.mark.parametrize(
    ("number", "do"),
    [
        (errno.ENOSPC, "make room"),
        (errno.EDQUOT, "make room"),
        (errno.EROFS, "mount it anew"),
        (errno.EIO, "copy off"),
        (errno.EMFILE, "LimitNOFILE"),
        (errno.ESTALE, "server"),
        (errno.EACCES, "give user"),
        (errno.EPERM, "give user"),
    ],
)
def test_each_usual_error_has_its_remedy(number, do):
    assert do in advice(failed(number, "/nowhere/at/all"))


def test_error_that_can_mean_anything_gets_no_advice():
    assert advice(failed(errno.EINVAL, "/x")) == ""
    assert advice(OSError("without a number")) == ""


def test_alarm_says_the_remedy_behind_the_error():
    words = in_words(failed(errno.ENOSPC, "/plates/held/x"))
    assert words == "No space left on device (ENOSPC): /plates/held/x; make room on that disk"
    assert in_words(failed(errno.EINVAL, "/x")) == "Invalid argument (EINVAL): /x"


def test_user_without_a_name_is_told_by_number():
    assert user_name(0) == "root"
    assert user_name(4_000_123) == "4000123"


def test_owner_and_mode_are_told_as_chmod_takes_them(tmp_path):
    tmp_path.chmod(0o2775)
    assert owner_of(tmp_path.stat()) == f"owner {user_name(os.geteuid())}, mode 2775"


class Closed:
    """Stands for the kernel's answer: these places are closed to us."""

    def __init__(self, *places):
        self.places = places

    def __call__(self, path, mode, **_):
        return mode and Path(path) not in self.places


def test_of_a_move_the_closed_folder_is_named(tmp_path, monkeypatch):
    source, target = tmp_path / "bench/job", tmp_path / "held/1041"
    source.mkdir(parents=True)
    target.parent.mkdir()
    monkeypatch.setattr(os, "access", Closed(target.parent))
    assert f"({target.parent}: owner " in advice(
        failed(errno.EACCES, str(source), None, str(target))
    )


def test_of_a_file_that_is_hidden_by_its_folder_the_folder_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", Closed(tmp_path))
    assert f"({tmp_path}: owner " in advice(failed(errno.EACCES, str(tmp_path / "a/b/gate.lock")))


def test_where_nothing_is_closed_no_place_is_blamed(tmp_path):
    says = advice(failed(errno.EPERM, str(tmp_path / "x")))
    assert "owner" not in says


def test_what_lies_in_a_folder_of_work_is_said_by_where_that_lies():
    inside = "/plates/held/.gatekeeper/gate-1/20261120T1/job/report.txt"
    assert in_words(failed(errno.EIO, inside)).startswith("Input/output error (EIO): /plates/held;")
    assert place_of(failed(errno.EIO, "/plates/held/liquid-plate/1041")) == (
        "/plates/held/liquid-plate/1041"
    )
    assert place_of(OSError(errno.EIO, "failed")) == ""


def test_of_a_move_the_disk_that_takes_no_changes_is_named(monkeypatch):
    monkeypatch.setattr(
        "gatekeeper.system_errors.is_read_only", lambda path: path.is_relative_to("/approved")
    )
    move = failed(errno.EROFS, "/held/.gatekeeper/g/t/job", None, "/approved/.gatekeeper/g/t/job")
    assert place_of(move) == "/approved"


def test_place_that_is_closed_is_named_wherever_it_lies(tmp_path, monkeypatch):
    work = tmp_path / ".gatekeeper" / "gate-1"
    work.mkdir(parents=True)
    monkeypatch.setattr(os, "access", Closed(work))
    assert place_of(failed(errno.EACCES, str(work / "t.new"))) == str(work)


def test_error_in_one_line_says_what_to_do_behind_it():
    error = RoomError("the share is away", where="/plates", do="mount it")
    assert says_and_do(in_words(error)) == ("the share is away", "mount it")
    assert says_and_do(in_words(RoomError("it is odd"))) == ("it is odd", "")
