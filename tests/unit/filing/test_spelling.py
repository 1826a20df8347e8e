from __future__ import annotations

import pytest

from gatekeeper.filing.desk import Roots
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.spelling import known_folder, settle_folder
from gatekeeper.filing.trouble import StateAlarm


@pytest.fixture
def roots(tmp_path) -> Roots:
    for root in ("drop", "approved", "held"):
        (tmp_path / root / ".gatekeeper").mkdir(parents=True)
    return Roots(tmp_path / "drop", tmp_path / "approved", tmp_path / "held", "g", "mark")


def settle(roots, job, shelf="w") -> str:
    return settle_folder(Disk(), roots, shelf, job, temporary=roots.held / ".gatekeeper" / "tmp")


class CountingDisk(Disk):
    """Counts how often a folder is listed."""

    listed = 0

    def names(self, folder):
        self.listed += 1
        return super().names(folder)


def test_first_spelling_names_the_folder_for_all_that_follow(roots):
    assert settle(roots, "QC-7") == "QC-7"
    assert settle(roots, "qc-7") == "QC-7"
    assert known_folder(Disk(), roots, "w", "Qc-7") == "QC-7"


def test_spelling_without_capitals_may_be_the_first(roots):
    assert settle(roots, "qc-7") == "qc-7"
    assert settle(roots, "QC-7") == "qc-7"


def test_unicode_forms_of_one_number_are_one_job(roots):
    assert settle(roots, "Gru\u0308n 7") == "Gr\u00fcn 7"
    assert settle(roots, "GR\u00dcN 7") == "Gr\u00fcn 7"


def test_same_number_in_another_workflow_is_another_job(roots):
    assert settle(roots, "QC-7") == "QC-7"
    assert settle(roots, "qc-7", shelf="x") == "qc-7"


def test_number_without_letters_is_noted_nowhere(roots):
    assert settle(roots, "1041") == "1041"
    assert not (roots.held / ".gatekeeper" / "spellings").exists()


def test_no_folder_is_listed_to_find_a_spelling(roots):
    settle(roots, "QC-7")
    disk = CountingDisk()
    known_folder(disk, roots, "w", "qc-7")
    assert disk.listed == 0


@pytest.mark.parametrize("root", ["approved", "held"])
def test_folder_that_stands_without_a_note_is_found_and_noted(roots, root):
    place = getattr(roots, root) / "w"
    (place / "qc-7").mkdir(parents=True)
    assert settle(roots, "QC-7") == "qc-7"
    (place / "qc-7").rmdir()
    assert settle(roots, "QC-7") == "qc-7"


def test_temporary_file_of_a_start_that_was_cut_is_in_nobodys_way(roots):
    (roots.held / ".gatekeeper" / "tmp").write_text("cut")
    assert settle(roots, "QC-7") == "QC-7"
    assert not (roots.held / ".gatekeeper" / "tmp").exists()


@pytest.mark.parametrize("content", [b"", b"../../etc", b"another job", b".gatekeeper"])
def test_damaged_note_is_an_alarm(roots, content):
    settle(roots, "QC-7")
    entry = roots.held / ".gatekeeper" / "spellings" / "w" / "qc-7"
    entry.write_bytes(content)
    with pytest.raises(StateAlarm, match="damaged"):
        known_folder(Disk(), roots, "w", "QC-7")


def test_number_too_long_for_a_folder_is_found_too(roots):
    first = settle(roots, "Q" * 300)
    assert settle(roots, "q" * 300) == first


def test_gate_that_loses_the_race_for_a_spelling_takes_the_winners(roots):
    class Rival(Disk):
        def rename_new(self, source, target):
            target.write_text("Qc-7")
            super().rename_new(source, target)

    beside = roots.held / ".gatekeeper" / "tmp"
    assert settle_folder(Rival(), roots, "w", "QC-7", temporary=beside) == "Qc-7"
    assert not beside.exists()
