"""A folder in which nothing stirs is answered from memory, and any change brings it back."""

import errno
import os

import pytest

from gatekeeper.rounds.outlook import Waiting
from gatekeeper.rounds.stillness import (
    AGAIN_S,
    LOOKED_AGAIN_S,
    SURE_S,
    Stillness,
    entries_of,
    has_folders,
    mark_of,
)

RULES = object()
WAITS = (Waiting("liquid-plate", "1041.pdf", "waits for its sheet of readings"),)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "1041.pdf").write_bytes(b"artwork")
    (tmp_path / "1042").mkdir()
    (tmp_path / "1042" / "k.tif").write_bytes(b"bitmap")
    return tmp_path


def known(stillness, folder, rules=RULES, now=0.0):
    return stillness.waiting_in(folder, entries_of(folder, with_folders=True), rules, now)


@pytest.fixture
def stillness(folder):
    stillness = Stillness()
    entries = entries_of(folder, with_folders=True)
    stillness.keep(folder, entries, RULES, WAITS, 0.0)
    return stillness


def test_still_folder_is_answered_from_memory(stillness, folder):
    assert known(stillness, folder) == WAITS


@pytest.mark.parametrize(
    "stir",
    [
        lambda folder: (folder / "1043.csv").write_bytes(b""),
        lambda folder: (folder / "1041.pdf").write_bytes(b"artwork, longer"),
        lambda folder: os.utime(folder / "1041.pdf", ns=(5, 5)),
        lambda folder: (folder / "1041.pdf").unlink(),
        lambda folder: (folder / "1041.pdf").rename(folder / "1041.svg"),
        lambda folder: (folder / "1042" / "k.csv").write_bytes(b"job,1042\n"),
        lambda folder: (folder / "1042" / "k.tif").unlink(),
    ],
    ids=["new", "grown", "touched", "gone", "renamed", "new inside", "gone inside"],
)
def test_folder_in_which_something_stirred_is_looked_at_again(stillness, folder, stir):
    stir(folder)
    assert known(stillness, folder) is None


def test_other_rules_and_an_hour_bring_the_folder_back(stillness, folder):
    assert known(stillness, folder, rules=object()) is None
    assert known(stillness, folder, now=AGAIN_S + 1) is None


def test_folder_with_something_on_its_way_is_not_kept(stillness, folder):
    on_its_way = (Waiting("liquid-plate", "1043.csv", "still arriving", 2.0),)
    entries = entries_of(folder, with_folders=True)
    stillness.keep(folder, entries, RULES, on_its_way, 0.0)
    assert known(stillness, folder) is None


def test_companion_whose_job_is_filed_is_looked_up_again(stillness, folder):
    stillness.note_jobless(folder, "QC-7", 0.0)
    assert stillness.is_jobless(folder, "qc-7", 1.0)
    stillness.filed({"1041"})
    assert stillness.is_jobless(folder, "QC-7", 1.0)
    assert known(stillness, folder) == WAITS
    stillness.filed({"qc-7"})
    assert not stillness.is_jobless(folder, "QC-7", 1.0)
    assert known(stillness, folder) is None


def test_companions_that_have_gone_are_forgotten(stillness, folder):
    stillness.note_jobless(folder, "QC-7", 0.0)
    stillness.forget_stems(folder, ["1041"])
    assert not stillness.is_jobless(folder, "QC-7", 1.0)


def test_a_folder_within_that_cannot_be_read_hides_no_neighbour_and_shows_when_it_can(
    folder, monkeypatch
):
    def refuse(path, real=os.scandir):
        if str(path).endswith("1042"):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return real(path)

    readable = entries_of(folder, with_folders=True)
    with monkeypatch.context() as refused:
        refused.setattr(os, "scandir", refuse)
        found = entries_of(folder, with_folders=True)
        assert found["1041.pdf"] == readable["1041.pdf"]
        assert found == entries_of(folder, with_folders=True)
    assert found != readable


def test_folder_that_cannot_be_read_is_not_known(tmp_path):
    with pytest.raises(FileNotFoundError):
        entries_of(tmp_path / "away", with_folders=True)


# -- the folder's own mark ----------------------------------------------------------------------


def look(stillness, folder, now, heard=0):
    """Look at the entries, as a round does where the mark does not say enough."""
    mark = mark_of(folder, heard)
    return stillness.waiting_in(
        folder, entries_of(folder, with_folders=True), RULES, now, mark
    ), mark


@pytest.fixture
def sure(folder):
    """Return what has met one mark at two looks, the second at `SURE_S`."""
    stillness = Stillness()
    entries, mark = entries_of(folder, with_folders=True), mark_of(folder, 0)
    stillness.keep(folder, entries, RULES, WAITS, 0.0, mark=mark, is_told=True)
    assert look(stillness, folder, SURE_S)[0] == WAITS
    return stillness


def unstirred(stillness, folder, now=2.0, heard=0, rules=RULES):
    return stillness.unstirred(folder, mark_of(folder, heard), rules, now)


def test_a_mark_met_twice_answers_for_the_entries_until_they_are_due(sure, folder):
    due = SURE_S + LOOKED_AGAIN_S
    assert unstirred(sure, folder, due - 0.1) == WAITS
    assert unstirred(sure, folder, due) is None
    assert look(sure, folder, due)[0] == WAITS
    assert unstirred(sure, folder, due + 0.1) == WAITS


def test_a_mark_met_twice_within_a_tick_answers_for_nothing(folder):
    stillness = Stillness()
    entries, mark = entries_of(folder, with_folders=True), mark_of(folder, 0)
    stillness.keep(folder, entries, RULES, WAITS, 0.0, mark=mark, is_told=True)
    look(stillness, folder, SURE_S / 2)
    assert unstirred(stillness, folder) is None


def test_a_mark_on_a_share_answers_for_nothing(folder):
    stillness = Stillness()
    entries, mark = entries_of(folder, with_folders=True), mark_of(folder, 0)
    stillness.keep(folder, entries, RULES, WAITS, 0.0, mark=mark, is_told=False)
    look(stillness, folder, SURE_S)
    assert unstirred(stillness, folder) is None


@pytest.mark.parametrize(
    "stir",
    [
        lambda folder: (folder / "1043.csv").write_bytes(b""),
        lambda folder: (folder / "1041.pdf").unlink(),
        lambda folder: (folder / "1041.pdf").rename(folder / "1041.svg"),
        lambda folder: folder.chmod(0o700),
    ],
    ids=["new", "gone", "renamed", "rights"],
)
def test_names_that_come_or_go_show_in_the_mark(sure, folder, stir):
    assert unstirred(sure, folder) == WAITS
    stir(folder)
    assert unstirred(sure, folder) is None


def test_what_was_heard_or_who_no_longer_listens_shows_in_the_mark(sure, folder):
    assert unstirred(sure, folder, heard=1) is None
    assert unstirred(sure, folder, heard=None) is None
    assert mark_of(folder, None) is None


def test_a_new_mark_must_be_met_twice_as_well(sure, folder):
    assert look(sure, folder, 3.0, heard=1)[0] == WAITS
    assert unstirred(sure, folder, 3.0, heard=1) is None
    assert look(sure, folder, 3.0 + SURE_S, heard=1)[0] == WAITS
    assert unstirred(sure, folder, 3.0 + SURE_S, heard=1) == WAITS


def test_other_rules_an_hour_and_a_filed_companion_outweigh_the_mark(sure, folder):
    assert unstirred(sure, folder, rules=object()) is None
    look(sure, folder, AGAIN_S)
    assert unstirred(sure, folder, AGAIN_S) == WAITS
    assert unstirred(sure, folder, AGAIN_S + 1) is None
    sure.note_jobless(folder, "1041", 0.0)
    sure.filed({"1041"})
    assert unstirred(sure, folder) is None


def test_a_folder_inside_is_told_from_the_work_folder(folder):
    assert has_folders(entries_of(folder, with_folders=True))
    (folder / "1042" / "k.tif").unlink()
    (folder / "1042").rmdir()
    (folder / ".gatekeeper").mkdir()
    assert not has_folders(entries_of(folder, with_folders=True))
