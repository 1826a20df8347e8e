"""Every row of the state table, laid out by hand and recovered."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from datetime import timedelta

import pytest
from byhand import Pieces
from plate_room import GOOD, WEAK, sheet

from gatekeeper.filing.states import TABLE
from gatekeeper.filing.worklist import FOUND
from gatekeeper.intake.reading import REMOVED


@pytest.fixture
def pieces(room) -> Pieces:
    return Pieces(room)


def require_filed_once(pieces: Pieces, *, by_this_ticket: bool = True) -> None:
    outlook = pieces.recover()
    assert not outlook.alarms, outlook.alarms
    pieces.room.require_sound()
    assert pieces.room.decisions() == {"1041": "approved"}
    assert (pieces.room.verdict("1041")["ticket"] == pieces.ticket) is by_this_ticket


def tree_of(room) -> dict[str, str]:
    return {
        str(path): hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
        for root in (room.site.drop, room.site.approved, room.site.held)
        for path in sorted(root.rglob("*"))
    }


def test_table_has_the_thirteen_rows_and_each_has_its_test():
    numbers = {row.number for row in TABLE}
    assert numbers == set(range(1, 14))
    tests = "".join(name for name in globals() if name.startswith("test_row_"))
    assert all(f"test_row_{number}_" in tests for number in [*numbers, 14])


def test_row_1_unfinished_ticket_is_thrown_away_and_its_sheet_found_again(pieces):
    pieces.lay_claim("drop")
    pieces.claim.rename(pieces.claim.with_name(f"{pieces.ticket}.new"))
    require_filed_once(pieces, by_this_ticket=False)


def test_row_1_ticket_folder_that_is_still_empty_is_thrown_away(pieces):
    pieces.claim.with_name(f"{pieces.ticket}.new").mkdir()
    pieces.aside.rename(pieces.filed)
    pieces.aside.mkdir()
    pieces.recover()
    assert not list(pieces.claim.parent.iterdir())


def test_row_2_ticket_whose_sheet_is_still_in_drop_goes_on(pieces):
    pieces.lay_claim("drop")
    require_filed_once(pieces)


def test_row_3_ticket_without_its_sheet_is_thrown_away(pieces):
    pieces.lay_claim("gone")
    outlook = pieces.recover()
    assert outlook.is_done
    assert pieces.room.decisions() == {}
    assert not pieces.claim.exists()


def test_row_3_ticket_whose_sheet_was_replaced_leaves_the_new_one_to_a_ticket_of_its_own(pieces):
    pieces.lay_claim("drop")
    os.utime(pieces.drop / "1041.csv", ns=(1, 1))
    require_filed_once(pieces, by_this_ticket=False)


def test_row_3_waits_while_a_folder_is_away(pieces):
    pieces.lay_claim("gone")
    marker = pieces.room.site.approved / ".gatekeeper" / "site-id"
    mark = marker.read_bytes()
    marker.unlink()
    assert "is away" in pieces.recover().alarms[0]
    assert pieces.claim.exists()
    marker.write_bytes(mark)
    assert pieces.room.sweep().is_done
    assert not pieces.claim.exists()


def test_row_4_sheet_under_both_names_loses_the_one_in_drop(pieces):
    pieces.lay_claim("both")
    require_filed_once(pieces)


def test_row_4_other_file_in_drop_is_a_new_arrival(pieces):
    pieces.lay_claim("two")
    pieces.room.dropped.append(pieces.content)
    pieces.room.sheets += 1
    pieces.recover()
    pieces.room.require_sound()
    assert len(pieces.room.verdict("1041")["sheets"]) == 2


@pytest.mark.parametrize("note", [False, True])
def test_row_5_claimed_sheet_is_read(pieces, note):
    pieces.lay_claim("in", attempts=1, note=note)
    require_filed_once(pieces)


def test_row_5_companion_that_was_not_claimed_yet_comes_too(pieces):
    pieces.lay_claim("in")
    artwork = pieces.room.drop("1041.pdf", b"artwork")
    found = artwork.stat()
    ticket = json.loads((pieces.claim / "ticket.json").read_text())
    ticket["companions"] = [
        {
            "name": "1041.pdf",
            "size": found.st_size,
            "mtime_ns": found.st_mtime_ns,
            "inode": found.st_ino,
        }
    ]
    (pieces.claim / "ticket.json").write_text(json.dumps(ticket))
    require_filed_once(pieces)
    assert pieces.room.verdict("1041")["companions"] == ["1041.pdf"]


@pytest.mark.parametrize(
    "laid",
    [(), ("1041.csv",), ("1041.csv", "report.txt")],
    ids=["nothing laid in", "the sheet laid in", "the report written"],
)
def test_row_6_open_bench_is_judged_again(pieces, laid):
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_bench(*laid) if laid else pieces.lay_empty_bench()
    (pieces.bench / "tmp-sheet").write_bytes(b"half a she")
    (pieces.bench / "tmp-verdict.json").write_bytes(b"{")
    require_filed_once(pieces)


@pytest.mark.parametrize("damage", [b"", b'{"format": "gatekeeper verdict", "ver'])
def test_row_6_verdict_that_was_cut_is_no_verdict(pieces, damage):
    pieces.lay_claim("in", attempts=1, note=True)
    job = pieces.lay_bench()
    (job / "verdict.json").write_bytes(damage)
    pieces.recover()
    # Nobody knows whose it was: it is kept under a number, and the job is held once.
    assert pieces.room.decisions() == {"1041": "held"}
    assert "damaged" in pieces.room.says("1041")


def test_row_5_half_copy_of_a_folder_that_was_taken_out_of_approved_is_made_anew(rooms):
    first = sheet(WEAK, operator="first")
    room = rooms()
    room.clock.time += timedelta(hours=1)  # the first sheet comes from another room's folder
    pieces = Pieces(room, sheet(GOOD, operator="second"))
    pieces.lay_claim("in", attempts=1, note=True)
    other = rooms()
    other.drop("1041.csv", first)
    other.sweep()
    shutil.copytree(next(iter(other.job_folders().values())), pieces.landing / "taken")
    half = pieces.bench / "tmp-taken"
    half.mkdir(parents=True)
    (half / "1041.csv").write_bytes(first[:40])
    room.dropped.append(first)
    room.sheets += 1
    assert not pieces.recover().alarms
    assert room.decisions() == {"1041": "approved"}
    assert [entry["current"] for entry in room.verdict("1041")["sheets"]] == [False, True]


def test_row_6_own_verdict_over_another_sheet_is_written_again(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    job = pieces.lay_bench()
    (job / "report.txt").write_text("another report")
    require_filed_once(pieces)


@pytest.mark.parametrize("numbered", ["nothing", "the verdict", "both"])
def test_row_6_earlier_verdict_and_report_are_numbered_once(rooms, numbered):
    room = rooms()
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.sweep()
    (held,) = room.job_folders().values()
    before = {name: (held / name).read_bytes() for name in ("verdict.json", "report.txt")}
    other = rooms()
    other.clock.time += timedelta(hours=1)
    pieces = Pieces(other, sheet(GOOD, operator="second"))
    other.dropped.append(sheet(WEAK, operator="first"))
    other.sheets = 2
    pieces.lay_claim("in", attempts=1, note=True)
    job = pieces.lay_empty_bench()
    for path in held.iterdir():
        (job / path.name).write_bytes(path.read_bytes())
    if numbered != "nothing":
        (job / "verdict.json").rename(job / "verdict.1.json")
    if numbered == "both":
        (job / "report.txt").rename(job / "report.1.txt")
    outlook = pieces.recover()
    assert not outlook.alarms
    (folder,) = other.job_folders().values()
    assert (folder / "verdict.1.json").read_bytes() == before["verdict.json"]
    assert (folder / "report.1.txt").read_bytes() == before["report.txt"]
    assert other.verdict("1041")["ticket"] == pieces.ticket
    assert [entry["current"] for entry in other.verdict("1041")["sheets"]] == [False, True]


@pytest.mark.parametrize("where", ["in", "gone"])
def test_row_7_decided_job_is_filed_and_not_judged_again(pieces, where):
    pieces.lay_claim(where, attempts=1, note=True)
    job = pieces.lay_bench()
    before = (job / "verdict.json").read_bytes()
    # Rules that would hold it now change nothing: it is decided.
    rules = pieces.room.site.root / "workflows" / "liquid-plate.yaml"
    rules.write_text("broken: [")
    require_filed_once(pieces)
    assert (pieces.filed / "verdict.json").read_bytes() == before


def test_row_8_half_copy_on_the_other_filesystem_is_thrown_away(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_bench()
    landed = pieces.landing / "job"
    landed.mkdir(parents=True)
    (landed / "1041.csv").write_bytes(b"half a she")
    require_filed_once(pieces)


def test_row_9_bench_of_a_filed_job_is_thrown_away(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_bench()
    pieces.lay_filed()
    require_filed_once(pieces)


@pytest.mark.parametrize("where", ["in", "gone"])
def test_row_10_filed_job_is_told_to_the_history_and_cleared_away(pieces, where):
    pieces.lay_claim(where, attempts=1, note=True)
    pieces.lay_filed()
    assert pieces.room.history_tickets() == []
    require_filed_once(pieces)
    assert pieces.room.history_tickets() == [pieces.ticket]


def test_row_10_original_that_changed_after_it_was_judged_comes_again_as_the_same_job(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_filed()
    changed = sheet(WEAK, job="another number")
    (pieces.claim / "in" / "1041.csv").write_bytes(changed)
    pieces.room.dropped.append(changed)
    pieces.room.sheets += 1
    outlook = pieces.recover()
    assert not outlook.alarms
    pieces.room.require_sound()
    assert pieces.room.decisions() == {"1041": "held"}


@pytest.mark.parametrize("ticket", [None, b"", b'{"id": ', b"[]"])
def test_row_11_files_without_a_ticket_are_held(pieces, ticket):
    pieces.lay_claim("in", attempts=1)
    (pieces.claim / "in" / "0-artwork.pdf").write_bytes(b"artwork of some size" * 1000)
    pieces.room.dropped.append(b"artwork of some size" * 1000)
    (pieces.claim / "ticket.json").unlink()
    if ticket is not None:
        (pieces.claim / "ticket.json").write_bytes(ticket)
    outlook = pieces.recover()
    assert not outlook.alarms
    pieces.room.require_sound()
    assert pieces.room.decisions() == {"1041": "held"}
    assert FOUND in pieces.room.says("1041")


def test_row_11_decided_job_stays_decided_when_its_ticket_is_damaged(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.lay_bench()
    (pieces.claim / "ticket.json").write_bytes(b"")
    require_filed_once(pieces)


def test_row_11_files_in_what_looks_like_rubbish_are_work_again(pieces):
    pieces.lay_claim("in")
    pieces.claim.rename(pieces.claim.with_name(f"{pieces.ticket}.done"))
    require_filed_once(pieces)


@pytest.mark.parametrize("laid", [False, True])
def test_row_12_job_whose_original_was_removed_can_only_be_held(pieces, laid):
    pieces.lay_claim("gone", attempts=1, note=True)
    pieces.lay_bench("1041.csv") if laid else pieces.lay_empty_bench()
    outlook = pieces.recover()
    assert not outlook.alarms
    assert pieces.room.decisions() == {"1041": "held"}
    assert REMOVED in pieces.room.says("1041")
    (entry,) = pieces.room.verdict("1041")["sheets"]
    digest = hashlib.sha256(pieces.content).hexdigest()
    assert entry["sha256"] == (digest if laid else "")


def test_row_13_missing_files_are_an_alarm_and_the_ticket_is_kept(pieces):
    pieces.lay_claim("gone", attempts=1)
    for _ in range(3):
        outlook = pieces.recover() if pieces.aside.exists() else pieces.room.sweep()
        assert not outlook.is_done
        assert any("is missing from the work folder" in alarm for alarm in outlook.alarms)
        assert (pieces.claim / "ticket.json").exists()


def test_row_14_what_no_row_explains_is_left_alone_and_other_jobs_go_on(pieces):
    pieces.lay_claim("in", attempts=1, note=True)
    landed = pieces.landing / "job"
    landed.mkdir(parents=True)
    (landed / "1041.csv").write_bytes(b"a copy without the bench that it was made from")
    before = tree_of(pieces.room)
    pieces.room.drop("1042.csv", sheet(GOOD, job="1042", operator="other"))
    outlook = pieces.recover()
    assert any("nothing explains" in alarm for alarm in outlook.alarms)
    assert pieces.room.decisions() == {"1042": "approved"}
    after = tree_of(pieces.room)
    assert {path: after.get(path) for path in before} == before


def test_row_14_bench_without_a_ticket_is_told(pieces):
    pieces.lay_bench()
    outlook = pieces.recover()
    assert any("work without a ticket" in alarm for alarm in outlook.alarms)
    assert (pieces.bench / "job" / "verdict.json").exists()
