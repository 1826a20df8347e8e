"""The order of the steps and of their flushes, call by call, as the filing protocol lists them.

What a power cut leaves of a step depends on the filesystem; this is what each of them was promised.
`flushed` is a file whose bytes are on the disk, `sync` a folder whose names are.
"""

from __future__ import annotations

import re

import pytest
from byhand import Pieces
from disks import Change, RecordingDisk
from plate_room import GOOD, WEAK, sheet

TICKET = re.compile(r"\d{8}T\d{6}\.\d{6}Z-[0-9a-f]{8}")


def written_down(room, log: list[Change]) -> list[str]:
    """Return the changes of one ticket in short words; room-wide preparations are left out."""
    site = room.site
    short = [
        (f"{site.drop}/liquid-plate/.gatekeeper/gate-1", "CLAIMS"),
        (f"{site.held}/.gatekeeper/gate-1", "BENCHES"),
        (f"{site.approved}/.gatekeeper/gate-1", "LANDINGS"),
        (f"{site.drop}/liquid-plate", "DROP"),
        (f"{site.approved}/liquid-plate", "APPROVED"),
        (f"{site.held}/liquid-plate", "HELD"),
    ]
    lines = []
    for change in log:
        words = " ".join(map(str, change.paths))
        for long, word in short:
            words = words.replace(long, word)
        lines.append(f"{change.kind} {TICKET.sub('T', words)}".strip())
    first = next(index for index, line in enumerate(lines) if "CLAIMS/T" in line)
    return lines[first:]


def steps(text: str) -> list[str]:
    return [line.split("#")[0].strip() for line in text.splitlines() if line.split("#")[0].strip()]


def recorded(room, *, commit: bool = True) -> list[str]:
    log: list[Change] = []
    rounds = room.rounds(RecordingDisk(log))
    tell = rounds.ledger.tell

    def tell_and_say(stories):
        errors = tell(stories)
        if commit:
            log.append(Change("commit", ()))
        return errors

    rounds.ledger.tell = tell_and_say
    rounds.go()
    log.clear()  # what prepares the folders, and the first look at what lies there
    rounds.go()
    rounds.ledger.history.close()
    return written_down(room, log)


CLAIM = """
    mkdir CLAIMS/T.new                                     # 1 ticket
    mkdir CLAIMS/T.new/in
    create CLAIMS/T.new/ticket.json
    flushed CLAIMS/T.new/ticket.json
    sync CLAIMS/T.new
    rename CLAIMS/T.new CLAIMS/T
    sync CLAIMS
    sync CLAIMS                                            # as after a restart
    rename DROP/1041.csv CLAIMS/T/in/1041.csv              # 2 claim
"""
READ = """
    sync CLAIMS/T/in
    sync DROP
    create CLAIMS/T/attempt.1                              # 3 read
    flushed CLAIMS/T/attempt.1
    sync CLAIMS/T
    create CLAIMS/T/job.json.new
    flushed CLAIMS/T/job.json.new
    rename CLAIMS/T/job.json.new CLAIMS/T/job.json
    sync CLAIMS/T
    mkdir BENCHES/T                                        # 4 bench
    sync BENCHES
"""
DECIDE = """
    create BENCHES/T/tmp-report.txt                        # 7 decide
    flushed BENCHES/T/tmp-report.txt
    rename BENCHES/T/tmp-report.txt BENCHES/T/job/report.txt
    create BENCHES/T/tmp-verdict.json
    flushed BENCHES/T/tmp-verdict.json
    rename BENCHES/T/tmp-verdict.json BENCHES/T/job/verdict.json
    sync BENCHES/T/job
"""
CLEAR = """
    commit                                                 # 9 record
    unlink CLAIMS/T/in/1041.csv                            # 10 clear
    sync CLAIMS/T/in
"""
CLEAR_BENCH = """
    rename BENCHES/T BENCHES/T.done
    sync BENCHES
    rmdir BENCHES/T.done
"""
CLEAR_CLAIM = """
    rename CLAIMS/T CLAIMS/T.done
    sync CLAIMS
    unlink CLAIMS/T.done/attempt.1
    rmdir CLAIMS/T.done/in
    unlink CLAIMS/T.done/job.json
    unlink CLAIMS/T.done/ticket.json
    rmdir CLAIMS/T.done
"""


def test_new_job_with_a_companion_is_filed_in_this_order(room):
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1041.pdf", b"artwork")
    assert recorded(room) == steps(
        CLAIM
        + "rename DROP/1041.pdf CLAIMS/T/in/1041.pdf"
        + READ
        + """
        mkdir BENCHES/T/job
        sync BENCHES/T
        create BENCHES/T/tmp-sheet                         # 5 copy
        flushed BENCHES/T/tmp-sheet
        rename BENCHES/T/tmp-sheet BENCHES/T/job/1041.csv
        flushed CLAIMS/T/in/1041.pdf
        rename CLAIMS/T/in/1041.pdf BENCHES/T/job/1041.pdf
        sync BENCHES/T/job
        sync CLAIMS/T/in
        """
        + DECIDE
        + """
        rename BENCHES/T/job APPROVED/1041                 # 8 file
        sync APPROVED
        sync BENCHES/T
        """
        + CLEAR
        + CLEAR_BENCH
        + CLEAR_CLAIM
    )


def test_held_job_that_is_measured_again_is_taken_and_filed_in_this_order(room):
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.sweep()
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    assert recorded(room) == steps(
        CLAIM
        + READ
        + """
        rename HELD/1041 BENCHES/T/job
        sync BENCHES/T
        sync HELD
        rename BENCHES/T/job/verdict.json BENCHES/T/job/verdict.1.json
        rename BENCHES/T/job/report.txt BENCHES/T/job/report.1.txt
        sync BENCHES/T/job
        create BENCHES/T/tmp-sheet
        flushed BENCHES/T/tmp-sheet
        rename BENCHES/T/tmp-sheet BENCHES/T/job/1041.2.csv
        sync BENCHES/T/job
        sync CLAIMS/T/in
        """
        + DECIDE
        + """
        rename BENCHES/T/job APPROVED/1041
        sync APPROVED
        sync BENCHES/T
        """
        + CLEAR
        + CLEAR_BENCH
        + CLEAR_CLAIM
    )


@pytest.fixture
def split_room(rooms, elsewhere):
    return rooms(approved=elsewhere / "approved")


def test_job_is_filed_on_another_filesystem_in_this_order(split_room):
    split_room.drop("1041.csv", sheet(GOOD))
    assert recorded(split_room) == steps(
        CLAIM
        + READ
        + """
        mkdir BENCHES/T/job
        sync BENCHES/T
        create BENCHES/T/tmp-sheet
        flushed BENCHES/T/tmp-sheet
        rename BENCHES/T/tmp-sheet BENCHES/T/job/1041.csv
        sync BENCHES/T/job
        sync CLAIMS/T/in
        """
        + DECIDE
        + """
        mkdir LANDINGS/T
        sync LANDINGS
        mkdir LANDINGS/T/job
        create LANDINGS/T/job/1041.csv
        flushed LANDINGS/T/job/1041.csv
        create LANDINGS/T/job/report.txt
        flushed LANDINGS/T/job/report.txt
        create LANDINGS/T/job/verdict.json
        flushed LANDINGS/T/job/verdict.json
        sync LANDINGS/T/job
        sync LANDINGS/T
        rename LANDINGS/T/job APPROVED/1041
        sync APPROVED
        sync BENCHES/T
        sync LANDINGS/T
        rename BENCHES/T/job BENCHES/T/tmp-job.done
        sync BENCHES/T
        unlink BENCHES/T/tmp-job.done/1041.csv
        unlink BENCHES/T/tmp-job.done/report.txt
        unlink BENCHES/T/tmp-job.done/verdict.json
        rmdir BENCHES/T/tmp-job.done
        """
        + CLEAR
        + """
        rename LANDINGS/T LANDINGS/T.done
        sync LANDINGS
        rmdir LANDINGS/T.done
        """
        + CLEAR_BENCH
        + CLEAR_CLAIM
    )


def test_job_is_taken_from_another_filesystem_out_of_approved_at_once(split_room):
    split_room.drop("1041.csv", sheet(GOOD))
    split_room.sweep()
    split_room.drop("1041.csv", sheet(WEAK, operator="second"))
    lines = recorded(split_room)
    first = lines.index("rename APPROVED/1041 LANDINGS/T/taken")
    assert lines[first - 2 : first] == ["mkdir LANDINGS/T", "sync LANDINGS"]
    assert lines[first + 1 :][:2] == ["sync LANDINGS/T", "sync APPROVED"]
    copied = lines.index("rename BENCHES/T/tmp-taken BENCHES/T/job")
    assert lines[copied - 1] == "sync BENCHES/T/tmp-taken"
    assert lines[copied + 1 :][:3] == [
        "sync BENCHES/T",
        "rename LANDINGS/T/taken LANDINGS/T/taken.done",
        "sync LANDINGS/T",
    ]
    filed = lines.index("rename BENCHES/T/job HELD/1041")
    assert all("verdict.json" not in line for line in lines[first:copied] if "rename" in line)
    assert filed > copied


def test_nothing_is_removed_but_rubbish_temporary_files_and_what_was_filed(room):
    room.drop("1041.csv", sheet(WEAK, operator="first"))
    room.sweep()
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.drop("1041.pdf", b"artwork")
    lines = recorded(room)
    filed = lines.index("rename BENCHES/T/job APPROVED/1041")
    removed = [(n, line) for n, line in enumerate(lines) if line.startswith(("unlink", "rmdir"))]
    assert removed
    for number, line in removed:
        assert ".done" in line or (line == "unlink CLAIMS/T/in/1041.csv" and number > filed)


def test_late_companion_is_flushed_before_and_after_it_joins(room):
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    room.drop("1041.pdf", b"artwork")
    log: list[Change] = []
    rounds = room.rounds(RecordingDisk(log))
    rounds.go()
    log.clear()
    rounds.go()
    rounds.ledger.history.close()
    names = [(change.kind, *(path.name for path in change.paths)) for change in log]
    assert names[-4:] == [
        ("flushed", "1041.pdf"),
        ("rename", "1041.pdf", "1041.pdf"),
        ("sync", "1041"),
        ("sync", "liquid-plate"),
    ]


def test_folders_that_a_killed_start_has_made_are_flushed_by_the_next_one(room):
    room.sweep()
    log: list[Change] = []
    rounds = room.rounds(RecordingDisk(log))
    rounds.go()
    flushed = {change.paths[0] for change in log if change.kind == "sync"}
    site = room.site
    for folder in (site.drop, site.approved, site.held, site.drop / "liquid-plate"):
        assert {folder, folder / ".gatekeeper"} <= flushed
    log.clear()
    rounds.go()
    rounds.ledger.history.close()
    assert not log


def test_bench_that_a_killed_start_has_made_is_flushed_by_the_next_one(room):
    pieces = Pieces(room)
    pieces.lay_claim("in", attempts=1, note=True)
    pieces.bench.mkdir()
    log: list[Change] = []
    room.sweep(RecordingDisk(log))
    lines = written_down(room, log)
    assert lines.index("sync BENCHES") < lines.index("mkdir BENCHES/T/job")
