"""A folder in which nothing stirs is answered from memory, and any change brings it back."""

import os

import pytest

from gatekeeper.rounds.outlook import Waiting
from gatekeeper.rounds.stillness import AGAIN_S, Stillness, entries_of

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


def test_folder_that_cannot_be_read_is_not_known(tmp_path):
    with pytest.raises(FileNotFoundError):
        entries_of(tmp_path / "away", with_folders=True)
