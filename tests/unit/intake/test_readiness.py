from __future__ import annotations

import os
from types import SimpleNamespace

import pytest

from gatekeeper.filing.desk import Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.tickets import Identity
from gatekeeper.intake.readiness import (
    ROOM_TO_SPARE,
    Readiness,
    closed,
    rules_reason,
    without_room,
)
from gatekeeper.intake.scan import Group
from gatekeeper.intake.settle import Settler
from gatekeeper.intake.shares import keeps_inodes
from gatekeeper.intake.sorting import Sorted
from gatekeeper.yamlfiles.places import FileProblem, Place

MOST = 4_000_000


@pytest.fixture
def roots(tmp_path) -> Roots:
    for name in ("drop", "approved", "held"):
        (tmp_path / name).mkdir()
    return Roots(tmp_path / "drop", tmp_path / "approved", tmp_path / "held", "g")


def told_apart(sheet_size: int, companion_size: int = 0) -> Sorted:
    sheet = Identity("1041.csv", sheet_size, 1, 1)
    companion = Identity("1041.tif", companion_size, 1, 2)
    return Sorted(
        Group("1041", "1041", (sheet, companion)), (sheet,), (companion,), ends_whole=True
    )


@pytest.fixture
def free(monkeypatch):
    """Let the disk have so many bytes free."""

    def leave(size):
        monkeypatch.setattr(os, "statvfs", lambda _: SimpleNamespace(f_bavail=size, f_frsize=1))

    return leave


def test_group_is_taken_while_twice_its_size_and_a_margin_are_free(roots, free):
    free(ROOM_TO_SPARE + 2 * 3_000_000 + 1)
    assert not without_room(roots, told_apart(1_000_000, 2_000_000), MOST)
    free(ROOM_TO_SPARE + 2 * 3_000_000)
    assert without_room(roots, told_apart(1_000_000, 2_000_000), MOST)


def test_sheet_with_a_hole_needs_no_more_room_than_a_sheet_may_have(roots, free):
    free(ROOM_TO_SPARE + 2 * MOST + 1)
    assert not without_room(roots, told_apart(1 << 40), MOST)
    assert without_room(roots, told_apart(1 << 40, 1), MOST)


def test_nothing_is_taken_while_a_disk_takes_no_changes_and_the_reason_is_one_for_all(
    roots, monkeypatch
):
    folder = roots.drop / "liquid-plate"
    folder.mkdir()
    assert closed(roots, folder) == ""
    for place in (folder, roots.held, roots.approved):
        read_only = SimpleNamespace(f_flag=os.ST_RDONLY), SimpleNamespace(f_flag=0)
        monkeypatch.setattr(os, "statvfs", lambda path, p=place, r=read_only: r[path != p])
        assert closed(roots, folder).startswith(f"{place} takes no changes: nothing new is taken")


def test_nothing_is_taken_from_a_folder_that_is_closed_to_the_gate(roots, monkeypatch):
    monkeypatch.setattr(os, "access", lambda path, _mode, **_: path != roots.drop)
    says, _, do = closed(roots, roots.drop).partition("; ")
    assert says == f"sheets cannot be taken from {roots.drop}: permission denied"
    assert do.startswith("give user")


def test_reason_names_the_first_place_of_what_is_broken():
    problems = [
        FileProblem(Place("workflows/b.yaml", 9, 1), "x", "later", "mend it"),
        FileProblem(Place("workflows/a.yaml", 3, 1), "x", "is wrong", "mend it"),
    ]
    assert rules_reason(problems) == "waits for its rules: workflows/a.yaml:3 is wrong"


@pytest.mark.parametrize(
    ("kind", "keeps"), [("ext4", True), ("nfs4", True), ("cifs", False), ("vfat", False)]
)
def test_inodes_are_kept_or_not_by_the_kind_of_mount(tmp_path, kind, keeps):
    table = tmp_path / "mounts"
    table.write_text(f"x / ext4 rw 0 0\nserver {tmp_path} {kind} rw 0 0\n")
    assert keeps_inodes(tmp_path, table) is keeps


def test_inodes_are_trusted_where_no_table_of_mounts_is_to_be_had(tmp_path):
    assert keeps_inodes(tmp_path, tmp_path / "nothing")


@pytest.mark.parametrize(
    ("files", "says"),
    [
        (
            {"1041.csv": 0},
            "the file is empty: waits 10 minutes for its content, then it is held",
        ),
        (
            {"1041.csv": 0, "1041.tif": 9},
            "empty: 1041.csv: waits 10 minutes for its content, then it is held",
        ),
        ({"1041.csv": 9, "1041.tif": 0}, "empty: 1041.tif: waits 10 minutes for its content"),
        ({"1041.csv": 9}, "still arriving: not at rest yet"),
    ],
)
def test_group_that_waits_for_an_empty_file_says_so(roots, files, says):
    group = Group("1041", "1041", tuple(Identity(name, size, 1, 1) for name, size in files.items()))
    sheets = tuple(file for file in group.files if file.name.endswith(".csv"))
    settler = Settler(2.0, 10.0)
    settler.look(str(roots.drop), (group,), 0.0)
    readiness = Readiness(Disk(), roots, settler, lambda: None, rescan_s=15)
    apart = Sorted(group, sheets, (), ends_whole=True)
    not_yet = readiness.not_yet("liquid-plate", roots.drop, apart, 1.0)
    assert not_yet.reason == says
