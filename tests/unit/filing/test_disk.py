from __future__ import annotations

import errno
import os

import pytest

from gatekeeper.filing.copying import copy_file, copy_tree, same_file
from gatekeeper.filing.disk import Disk, NotPlainFileError, TooLargeError


@pytest.fixture
def disk() -> Disk:
    return Disk()


@pytest.fixture
def flushed(monkeypatch):
    """Inode numbers in the order in which the system was asked to flush them."""
    order = []
    fsync = os.fsync

    def note(handle):
        order.append(os.fstat(handle).st_ino)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", note)
    return order


class WithoutRefusal(Disk):
    """A filesystem that cannot refuse a taken name, as NFS cannot."""

    def rename_noreplace(self, source, target):
        raise OSError(errno.EINVAL, "not offered", str(source), None, str(target))


DISKS = pytest.mark.parametrize("kind", [Disk, WithoutRefusal])


# -- looking ------------------------------------------------------------------------------------


def test_only_a_name_that_is_not_there_counts_as_absent(disk, tmp_path):
    assert disk.lstat(tmp_path / "nothing") is None
    (tmp_path / "file").touch()
    with pytest.raises(NotADirectoryError):
        disk.lstat(tmp_path / "file" / "inner")
    with pytest.raises(OSError, match="too long"):
        disk.lstat(tmp_path / ("x" * 300))
    with pytest.raises(NotADirectoryError):
        disk.names(tmp_path / "file")


def test_link_to_a_folder_is_no_folder_and_a_link_to_a_file_no_file(disk, tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    (tmp_path / "to-folder").symlink_to("folder")
    (tmp_path / "to-file").symlink_to("file")
    assert disk.is_folder(tmp_path / "folder")
    assert not disk.is_folder(tmp_path / "to-folder")
    assert disk.is_plain(tmp_path / "file")
    assert not disk.is_plain(tmp_path / "to-file")


@pytest.mark.parametrize("make", ["link", "pipe", "folder"])
def test_what_is_no_plain_file_is_never_read(disk, tmp_path, make):
    path = tmp_path / "x"
    if make == "link":
        (tmp_path / "file").write_bytes(b"secret")
        path.symlink_to("file")
    elif make == "pipe":
        os.mkfifo(path)
    else:
        path.mkdir()
    with pytest.raises(NotPlainFileError):
        disk.read(path, 100)


def test_file_is_read_up_to_its_limit_and_no_byte_further(disk, tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"12345")
    assert disk.read(path, 5) == b"12345"
    assert disk.head(path, 2) == b"12"
    with pytest.raises(TooLargeError, match="at most 4"):
        disk.read(path, 4)


# -- writing ------------------------------------------------------------------------------------


def test_new_file_is_flushed_before_its_writing_returns(disk, tmp_path, flushed):
    disk.write_new(tmp_path / "x", b"bytes")
    assert flushed == [(tmp_path / "x").stat().st_ino]


def test_folder_and_somebodys_file_are_flushed_themselves(disk, tmp_path, flushed):
    (tmp_path / "x").touch()
    disk.sync(tmp_path)
    disk.sync_file(tmp_path / "x")
    assert flushed == [tmp_path.stat().st_ino, (tmp_path / "x").stat().st_ino]


def test_new_file_with_its_name_is_flushed_before_its_folder(disk, tmp_path, flushed):
    disk.write_new(tmp_path / "x", b"bytes", with_name=True)
    assert flushed == [(tmp_path / "x").stat().st_ino, tmp_path.stat().st_ino]


def test_each_of_several_folders_is_flushed(disk, tmp_path, flushed):
    (tmp_path / "inner").mkdir()
    disk.sync(tmp_path / "inner", tmp_path)
    assert flushed == [(tmp_path / "inner").stat().st_ino, tmp_path.stat().st_ino]


def test_taken_name_is_never_written_over(disk, tmp_path):
    (tmp_path / "x").write_bytes(b"first")
    with pytest.raises(FileExistsError):
        disk.write_new(tmp_path / "x", b"second")
    assert (tmp_path / "x").read_bytes() == b"first"


def test_file_whose_flush_failed_is_thrown_away_and_not_flushed_again(disk, tmp_path, monkeypatch):
    asked = []

    def fail_once(handle):
        asked.append(handle)
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail_once)
    with pytest.raises(OSError, match="Input/output"):
        disk.write_new(tmp_path / "x", b"bytes")
    assert len(asked) == 1
    assert not (tmp_path / "x").exists()


def test_file_whose_name_could_not_be_flushed_is_thrown_away(disk, tmp_path, monkeypatch):
    def fail(path, _flags):
        raise OSError(errno.EIO, "Input/output error", str(path))

    monkeypatch.setattr("gatekeeper.filing.disk._flush", fail)
    with pytest.raises(OSError, match="Input/output"):
        disk.write_new(tmp_path / "x", b"bytes", with_name=True)
    assert not (tmp_path / "x").exists()


def test_write_that_is_short_is_carried_on(disk, tmp_path, monkeypatch):
    write = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: write(handle, bytes(data)[:2]))
    disk.write_new(tmp_path / "x", b"12345")
    assert (tmp_path / "x").read_bytes() == b"12345"


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC, errno.EDQUOT])
def test_flush_of_a_folder_that_fails_is_an_error(disk, tmp_path, monkeypatch, number):
    def fail(_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError) as caught:  # noqa: PT011 -- the number is looked at below
        disk.sync(tmp_path)
    assert caught.value.errno == number


def test_error_of_an_open_file_says_which_one_it_is_of(disk, tmp_path, monkeypatch):
    (tmp_path / "y").write_bytes(b"y")

    def fail(*_):
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    for name, act in (
        ("write", lambda: disk.write_new(tmp_path / "x", b"x")),
        ("fsync", lambda: disk.write_new(tmp_path / "x", b"x")),
        ("fsync", lambda: disk.sync(tmp_path)),
        ("pwrite", lambda: disk.overwrite(tmp_path / "x", b"x")),
        ("read", lambda: disk.read(tmp_path / "y", 10)),
        ("read", lambda: disk.head(tmp_path / "y", 10)),
    ):
        with monkeypatch.context() as broken:
            broken.setattr(os, name, fail)
            with pytest.raises(OSError, match="Input/output error") as caught:
                act()
        assert str(caught.value.filename).startswith(str(tmp_path)), name


def test_network_share_that_flushes_no_folders_is_put_up_with(disk, tmp_path, monkeypatch):
    def refuse(_):
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(os, "fsync", refuse)
    disk.sync(tmp_path)


# -- renaming -----------------------------------------------------------------------------------


@DISKS
def test_file_is_renamed(kind, tmp_path):
    (tmp_path / "a").write_bytes(b"bytes")
    kind().rename_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"bytes"
    assert not (tmp_path / "a").exists()


@DISKS
def test_rename_of_a_file_never_overwrites(kind, tmp_path):
    (tmp_path / "a").write_bytes(b"ours")
    (tmp_path / "b").write_bytes(b"theirs")
    with pytest.raises(FileExistsError):
        kind().rename_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "a").read_bytes() == b"ours"
    assert (tmp_path / "b").read_bytes() == b"theirs"


@DISKS
def test_rename_of_a_folder_never_merges_or_replaces(kind, tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b" / "inner").mkdir(parents=True)
    with pytest.raises(FileExistsError):
        kind().rename_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "a").exists()
    (tmp_path / "file").touch()
    with pytest.raises(FileExistsError):
        kind().rename_new(tmp_path / "a", tmp_path / "file")


@DISKS
def test_rename_of_what_is_not_there_says_so(kind, tmp_path):
    with pytest.raises(FileNotFoundError):
        kind().rename_new(tmp_path / "a", tmp_path / "b")


def test_second_name_is_flushed_before_the_first_is_removed(tmp_path, flushed):
    (tmp_path / "from").mkdir()
    (tmp_path / "to").mkdir()
    (tmp_path / "from" / "a").touch()
    WithoutRefusal().rename_new(tmp_path / "from" / "a", tmp_path / "to" / "a")
    assert flushed == [(tmp_path / "to").stat().st_ino]


def test_rename_by_link_that_was_cut_between_its_halves_is_finished(tmp_path):
    (tmp_path / "a").write_bytes(b"bytes")
    (tmp_path / "b").hardlink_to(tmp_path / "a")
    WithoutRefusal().rename_new(tmp_path / "a", tmp_path / "b")
    assert not (tmp_path / "a").exists()
    assert (tmp_path / "b").read_bytes() == b"bytes"


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOENT, errno.EEXIST])
def test_rename_that_reports_failure_and_has_happened_has_happened(tmp_path, number):
    class Network(Disk):
        def rename_noreplace(self, source, target):
            super().rename_noreplace(source, target)
            raise OSError(number, os.strerror(number))

    (tmp_path / "a").write_bytes(b"bytes")
    Network().rename_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"bytes"


def test_rename_that_failed_and_cannot_be_looked_at_has_failed(tmp_path):
    class Dead(Disk):
        def rename_noreplace(self, source, target):
            raise OSError(errno.EIO, "Input/output error", str(source), None, str(target))

        def lstat(self, path):
            raise OSError(errno.ESTALE, "Stale file handle", str(path))

    (tmp_path / "a").touch()
    with pytest.raises(OSError, match="Input/output"):
        Dead().rename_new(tmp_path / "a", tmp_path / "b")


@pytest.mark.parametrize("is_taken", [False, True])
def test_file_to_which_no_link_may_be_made_is_renamed_if_the_name_is_free(
    tmp_path, monkeypatch, is_taken
):
    def refuse(*_, **__):
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    (tmp_path / "a").write_bytes(b"theirs")
    if is_taken:
        (tmp_path / "b").write_bytes(b"ours")
        with pytest.raises(FileExistsError):
            WithoutRefusal().rename_new(tmp_path / "a", tmp_path / "b")
    else:
        WithoutRefusal().rename_new(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == (b"ours" if is_taken else b"theirs")


# -- removing and copying -----------------------------------------------------------------------


def test_removing_what_is_gone_is_no_error(disk, tmp_path):
    disk.unlink(tmp_path / "x")
    disk.remove_folder(tmp_path / "x")
    disk.remove_tree(tmp_path / "x")


def test_removing_a_tree_does_not_follow_its_links(disk, tmp_path):
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "file").touch()
    (tmp_path / "tree" / "inner").mkdir(parents=True)
    (tmp_path / "tree" / "link").symlink_to(tmp_path / "kept")
    disk.remove_tree(tmp_path / "tree")
    assert not (tmp_path / "tree").exists()
    assert (tmp_path / "kept" / "file").exists()


class Corrupting(Disk):
    """Writes other bytes than it was given."""

    def write_new(self, path, content):
        super().write_new(path, b"".join(content) + b"!")


def test_copy_that_differs_from_the_original_is_an_error_and_is_removed(tmp_path):
    (tmp_path / "a").write_bytes(b"bytes")
    with pytest.raises(OSError, match="differs"):
        copy_file(Corrupting(), tmp_path / "a", tmp_path / "b")
    assert not (tmp_path / "b").exists()


def test_tree_is_copied_with_its_links_and_flushed_from_the_inside(disk, tmp_path, flushed):
    (tmp_path / "a" / "inner").mkdir(parents=True)
    (tmp_path / "a" / "inner" / "file").write_bytes(b"bytes")
    (tmp_path / "a" / "link").symlink_to("elsewhere")
    copy_tree(disk, tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b" / "inner" / "file").read_bytes() == b"bytes"
    assert os.readlink(tmp_path / "b" / "link") == "elsewhere"  # noqa: PTH115 -- the text of it
    copies = [tmp_path / "b" / "inner" / "file", tmp_path / "b" / "inner", tmp_path / "b"]
    assert flushed == [copy.stat().st_ino for copy in copies]


def test_pipe_in_a_job_folder_cannot_be_copied_and_is_said(disk, tmp_path):
    (tmp_path / "a").mkdir()
    os.mkfifo(tmp_path / "a" / "pipe")
    with pytest.raises(NotPlainFileError):
        copy_tree(disk, tmp_path / "a", tmp_path / "b")


def test_files_are_the_same_by_their_bytes_or_by_being_one(disk, tmp_path):
    for name, content in {"a": b"one", "b": b"one", "c": b"two"}.items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "d").hardlink_to(tmp_path / "c")
    (tmp_path / "e").symlink_to("a")
    assert same_file(disk, tmp_path / "a", tmp_path / "b")
    assert same_file(disk, tmp_path / "c", tmp_path / "d")
    assert not same_file(disk, tmp_path / "a", tmp_path / "c")
    assert not same_file(disk, tmp_path / "a", tmp_path / "e")
    assert not same_file(disk, tmp_path / "a", tmp_path / "nothing")
