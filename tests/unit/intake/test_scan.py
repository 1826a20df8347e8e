from __future__ import annotations

import os

import pytest

from gatekeeper.intake.scan import is_litter, list_drop_folder, stem_of
from gatekeeper.site import LITTER


def groups(folder, *, with_folders=True):
    listing = list_drop_folder(folder, LITTER, with_folders=with_folders)
    return {group.hint: sorted(file.name for file in group.files) for group in listing.groups}


def test_files_of_one_stem_are_a_group_whatever_their_ending(tmp_path):
    for name in ("1041.csv", "1041.pdf", "1041", "1042.csv", "job1.csv", "job1.2.pdf", "job10.pdf"):
        (tmp_path / name).touch()
    assert groups(tmp_path) == {
        "1041": ["1041", "1041.csv", "1041.pdf"],
        "1042": ["1042.csv"],
        "job1": ["job1.csv"],
        "job1.2": ["job1.2.pdf"],
        "job10": ["job10.pdf"],
    }


@pytest.mark.parametrize(
    ("one", "other"), [("Job.csv", "job.pdf"), ("gr\u00fcn.csv", "gru\u0308n.csv")]
)
def test_stems_that_a_share_would_take_for_one_clash(tmp_path, one, other):
    (tmp_path / one).touch()
    (tmp_path / other).touch()
    (group,) = list_drop_folder(tmp_path, (), with_folders=True).groups
    assert group.clashes


def test_stems_that_differ_in_a_blank_do_not_clash(tmp_path):
    (tmp_path / "job 1.csv").touch()
    (tmp_path / "job  1.csv").touch()
    assert len(list_drop_folder(tmp_path, (), with_folders=True).groups) == 2


@pytest.mark.parametrize(
    "name",
    [".DS_Store", "._1041.csv", "~$1041.xlsx", ".~lock.1041.ods#", "1041.csv.part", "THUMBS.DB"],
)
def test_litter_is_left_alone_without_a_word(tmp_path, name):
    (tmp_path / name).touch()
    listing = list_drop_folder(tmp_path, LITTER, with_folders=True)
    assert is_litter(name, LITTER)
    assert not listing.groups
    assert not listing.odd


def test_dropped_folder_is_a_group_of_its_files(tmp_path):
    (tmp_path / "box").mkdir()
    (tmp_path / "box" / "k.csv").write_bytes(b"123")
    (tmp_path / "box" / ".hidden").touch()
    (tmp_path / "empty").mkdir()
    (group,) = list_drop_folder(tmp_path, LITTER, with_folders=True).groups
    assert (group.hint, group.in_folder, group.size) == ("box", True, 3)
    assert [file.name for file in group.files] == ["box/k.csv"]
    assert not groups(tmp_path, with_folders=False)


def test_what_is_no_plain_file_is_shown(tmp_path):
    (tmp_path / "link.csv").symlink_to("nowhere")
    (tmp_path / "box" / "inner").mkdir(parents=True)
    (tmp_path / "box" / "k.csv").touch()
    listing = list_drop_folder(tmp_path, LITTER, with_folders=True)
    assert {odd.name: odd.reason for odd in listing.odd} == {
        "link.csv": "is not a plain file, and is left where it is",
        "box/inner": "is not a plain file: the folder waits",
    }
    assert not listing.groups


def test_file_that_vanishes_during_the_look_is_no_trouble(tmp_path, monkeypatch):
    (tmp_path / "1041.csv").touch()
    (tmp_path / "1042.csv").touch()
    path = type(tmp_path)
    lstat = path.lstat

    def vanish(self):
        if self.name == "1041.csv":
            self.unlink(missing_ok=True)
        return lstat(self)

    monkeypatch.setattr(path, "lstat", vanish)
    assert groups(tmp_path) == {"1042": ["1042.csv"]}


def test_file_or_folder_that_cannot_be_looked_at_is_shown(tmp_path, monkeypatch):
    (tmp_path / "1041.csv").touch()
    (tmp_path / "box").mkdir()
    path = type(tmp_path)
    lstat, iterdir = path.lstat, path.iterdir

    def refuse(self):
        if self.name == "1041.csv":
            raise PermissionError(13, "Permission denied")
        return lstat(self)

    def refuse_to_list(self):
        if self.name == "box":
            raise PermissionError(13, "Permission denied")
        return iterdir(self)

    monkeypatch.setattr(path, "lstat", refuse)
    monkeypatch.setattr(path, "iterdir", refuse_to_list)
    listing = list_drop_folder(tmp_path, (), with_folders=True)
    assert {odd.name: odd.reason for odd in listing.odd} == {
        "1041.csv": "cannot be looked at: Permission denied",
        "box": "cannot be looked into: Permission denied",
    }


def test_inodes_do_not_count_where_a_share_renumbers(tmp_path):
    (tmp_path / "1041.csv").touch()
    (tmp_path / "box").mkdir()
    (tmp_path / "box" / "k.csv").touch()
    listing = list_drop_folder(tmp_path, (), with_folders=True, has_inodes=False)
    assert [file.inode for group in listing.groups for file in group.files] == [0, 0]


@pytest.mark.parametrize(
    ("name", "stem"),
    [("a.csv", "a"), ("a.b.csv", "a.b"), ("a", "a"), (".a", ".a"), ("a.", "a")],
)
def test_stem_is_the_name_without_its_last_ending(name, stem):
    assert stem_of(name) == stem


def test_name_that_is_no_text_is_listed(tmp_path):
    name = os.fsdecode(b"gr\xfcn.csv")
    (tmp_path / name).touch()
    assert groups(tmp_path) == {os.fsdecode(b"gr\xfcn"): [name]}
