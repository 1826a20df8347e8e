from __future__ import annotations

import dataclasses

import pytest

from gatekeeper.filing.disk import Disk
from gatekeeper.filing.folder import (
    digest_in,
    is_ours,
    newest_earlier,
    next_number,
    sha256_of,
    valid_record,
    verdict_numbers,
)
from gatekeeper.verdict import Decision, JudgedSheet, Verdict
from gatekeeper.verdict_document import to_bytes

REPORT = b"the report\n"
VERDICT = Verdict("T", "1041", "w", "", Decision.HELD, "", "2026-11-24T17:00:00+00:00", "p", ())


def lay(folder, *sheets, report=REPORT):
    verdict = dataclasses.replace(VERDICT, sheets=sheets)
    (folder / "report.txt").write_bytes(REPORT)
    (folder / "verdict.json").write_bytes(to_bytes(verdict, report_sha256=sha256_of(report)))


@pytest.mark.parametrize(
    "name",
    ["verdict.json", "Report.TXT", "report.2.txt", "verdict.1000000.json", "report.json"],
)
def test_names_that_we_write_are_ours_on_every_share(name):
    assert is_ours(name)


@pytest.mark.parametrize("name", ["report.csv", "my report.txt", "report.a.txt", "verdict"])
def test_other_names_are_theirs(name):
    assert not is_ours(name)


def test_verdict_is_believed_over_the_sheets_and_the_report_beside_it(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"readings")
    lay(tmp_path, JudgedSheet("a.csv", sha256_of(b"readings"), "T"))
    assert valid_record(Disk(), tmp_path).verdict.ticket == "T"


@pytest.mark.parametrize("break_it", ["sheet", "report", "gone", "link", "folder", "cut", "none"])
def test_verdict_is_not_believed_over_anything_else(tmp_path, break_it):
    (tmp_path / "a.csv").write_bytes(b"readings")
    lay(tmp_path, JudgedSheet("a.csv", sha256_of(b"readings"), "T"))
    match break_it:
        case "sheet":
            (tmp_path / "a.csv").write_bytes(b"other readings")
        case "report":
            (tmp_path / "report.txt").write_bytes(b"")
        case "gone":
            (tmp_path / "a.csv").unlink()
        case "link":
            (tmp_path / "a.csv").rename(tmp_path / "b.csv")
            (tmp_path / "a.csv").symlink_to("b.csv")
        case "folder":
            (tmp_path / "report.txt").unlink()
            (tmp_path / "report.txt").mkdir()
        case "cut":
            whole = (tmp_path / "verdict.json").read_bytes()
            (tmp_path / "verdict.json").write_bytes(whole[:-5])
        case "none":
            (tmp_path / "verdict.json").unlink()
    assert valid_record(Disk(), tmp_path) is None


def test_sheet_that_was_gone_when_it_was_judged_may_be_gone(tmp_path):
    lay(tmp_path, JudgedSheet("a.csv", "", "T"))
    assert valid_record(Disk(), tmp_path)


@pytest.mark.parametrize("name", ["../outside.csv", "inner/a.csv", "\0", ".."])
def test_name_that_leads_elsewhere_has_no_digest(tmp_path, name):
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "a.csv").touch()
    (tmp_path.parent / "outside.csv").touch()
    assert digest_in(tmp_path, name) is None


def test_earlier_verdicts_are_numbered_from_the_oldest(tmp_path):
    for number, ticket in ((1, "A"), (2, "B"), (10, "C")):
        earlier = dataclasses.replace(VERDICT, ticket=ticket)
        (tmp_path / f"verdict.{number}.json").write_bytes(to_bytes(earlier))
    (tmp_path / "verdict.0.json").touch()
    (tmp_path / "report.11.txt").touch()
    assert verdict_numbers(Disk(), tmp_path) == [1, 2, 10]
    assert next_number(Disk(), tmp_path) == 12
    assert newest_earlier(Disk(), tmp_path)[0].verdict.ticket == "C"
    assert not newest_earlier(Disk(), tmp_path)[1]
    (tmp_path / "verdict.10.json").write_bytes(b"{")
    assert newest_earlier(Disk(), tmp_path)[0].verdict.ticket == "B"
    assert newest_earlier(Disk(), tmp_path)[1]


def test_new_folder_has_neither_verdicts_nor_doubts(tmp_path):
    assert next_number(Disk(), tmp_path) == 1
    assert newest_earlier(Disk(), tmp_path)[0] is None
    assert not newest_earlier(Disk(), tmp_path)[1]
