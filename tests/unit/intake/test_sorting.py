from __future__ import annotations

import os

import pytest

from gatekeeper.intake.scan import Group, list_drop_folder
from gatekeeper.intake.sorting import Sorted, Sorter


class Looks:
    """Tells a sheet by its ending, and counts how often it is asked."""

    def __init__(self) -> None:
        self.asked = 0

    def is_sheet(self, name: str, head: bytes) -> bool:
        self.asked += 1
        return name.lower().endswith((".csv", ".xlsx")) or head.startswith(b"CGATS")


@pytest.fixture
def looks() -> Looks:
    return Looks()


@pytest.fixture
def sorter(looks) -> Sorter:
    return Sorter(looks.is_sheet, lambda content: content.endswith(b"\n"), 1000)


def group_of(folder) -> Group:
    (group,) = list_drop_folder(folder, (), with_folders=True).groups
    return group


def lay(folder, **files) -> Group:
    for name, content in files.items():
        (folder / name.replace("__", ".")).write_bytes(content)
    return group_of(folder)


def sort(sorter, folder) -> Sorted:
    return sorter.sort(folder, group_of(folder))


def test_sheet_is_told_from_its_companions(sorter, tmp_path):
    told = sorter.sort(tmp_path, lay(tmp_path, a__csv=b"1\n", a__pdf=b"x", a__txt=b"CGATS\n"))
    assert [file.name for file in told.sheets] == ["a.csv", "a.txt"]
    assert [file.name for file in told.companions] == ["a.pdf"]
    assert told.ends_whole


def test_sheet_that_lacks_its_end_is_not_whole_and_a_companion_may_lack_it(sorter, tmp_path):
    assert not sorter.sort(tmp_path, lay(tmp_path, a__csv=b"1")).ends_whole
    (tmp_path / "a.csv").write_bytes(b"1\n")
    (tmp_path / "a.pdf").write_bytes(b"x")
    assert sort(sorter, tmp_path).ends_whole


def test_sheet_beyond_the_limit_is_not_looked_through(sorter, tmp_path):
    assert sorter.sort(tmp_path, lay(tmp_path, a__csv=b"x" * 1001)).ends_whole


def test_file_is_looked_into_again_only_when_it_changed(sorter, looks, tmp_path):
    lay(tmp_path, a__csv=b"1\n")
    sort(sorter, tmp_path)
    sort(sorter, tmp_path)
    assert looks.asked == 1
    os.utime(tmp_path / "a.csv", ns=(1, 1))
    sort(sorter, tmp_path)
    assert looks.asked == 2


def test_file_that_was_gone_is_forgotten(sorter, looks, tmp_path):
    group = lay(tmp_path, a__csv=b"1\n")
    sorter.sort(tmp_path, group)
    sorter.forget_all_but(tmp_path, ())
    sorter.sort(tmp_path, group)
    assert looks.asked == 2


def test_file_that_cannot_be_opened_is_named_and_judged_by_its_name(sorter, tmp_path):
    group = lay(tmp_path, a__csv=b"1\n")
    (tmp_path / "a.csv").unlink()
    (tmp_path / "a.csv").symlink_to("elsewhere")
    told = sorter.sort(tmp_path, group)
    assert told.unopened.startswith("a.csv: ")
    assert told.sheets


def test_companions_go_with_the_sheet_of_their_stem_or_the_first(sorter, tmp_path):
    folder = tmp_path / "box"
    folder.mkdir()
    for name in ("c.csv", "k.csv", "k.tif", "notes.pdf"):
        (folder / name).write_bytes(b"1\n")
    told = sort(sorter, tmp_path)
    first, second = told.sheets
    assert [file.own_name for file in told.companions_of(first)] == ["notes.pdf"]
    assert [file.own_name for file in told.companions_of(second)] == ["k.tif"]
    assert not told.refusal_of(first)


@pytest.mark.parametrize("other", ["k.xlsx", "K.csv"])
def test_two_sheets_of_one_stem_in_a_folder_are_refused_and_others_are_not(sorter, tmp_path, other):
    folder = tmp_path / "box"
    folder.mkdir()
    for name in ("c.csv", "k.csv", other):
        (folder / name).write_bytes(b"1\n")
    told = sort(sorter, tmp_path)
    refused = {file.own_name for file in told.sheets if told.refusal_of(file)}
    assert refused == {"k.csv", other}
