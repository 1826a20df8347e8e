"""What stands in approved without being approved is taken to held, whatever kills the program."""

from __future__ import annotations

import contextlib
import json

import pytest
from disks import Died, DyingDisk
from plate_room import GOOD, sheet

from gatekeeper.filing.doubt import NO_VERDICT, NOT_APPROVED, OTHER_FILES


def without_verdict(folder) -> None:
    (folder / "verdict.json").unlink()


def with_a_cut_verdict(folder) -> None:
    (folder / "verdict.json").write_bytes(b"{")


def with_another_sheet(folder) -> None:
    (folder / "1041.csv").write_bytes(b"other readings")


def without_its_sheet(folder) -> None:
    (folder / "1041.csv").unlink()


def with_a_verdict_that_says_held(folder) -> None:
    verdict = json.loads((folder / "verdict.json").read_bytes())
    text = json.dumps(verdict | {"decision": "held"})
    (folder / "verdict.json").write_text(text + "\n")


HANDS = {
    without_verdict: NO_VERDICT,
    with_a_cut_verdict: NO_VERDICT,
    with_another_sheet: OTHER_FILES,
    without_its_sheet: OTHER_FILES,
    with_a_verdict_that_says_held: NOT_APPROVED,
}


def approved(room):
    room.drop("1041.csv", sheet(GOOD))
    room.drop("1042.csv", sheet(GOOD, job="1042", operator="other"))
    room.sweep()
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
    return room.site.approved / "liquid-plate" / "1041"


def check(room, disk=None):
    rounds = room.rounds(disk)
    try:
        return rounds.check_approved()
    finally:
        rounds.ledger.history.close()


@pytest.mark.parametrize(("hand", "reason"), HANDS.items(), ids=[hand.__name__ for hand in HANDS])
def test_job_that_a_hand_has_changed_is_taken_out_of_approved_and_told(room, hand, reason):
    hand(approved(room))
    outlook = check(room)
    assert outlook.alarms == [f"job 1041: {reason}"]
    assert room.decisions() == {"1041": "held", "1042": "approved"}
    assert reason in room.says("1041")
    assert check(room).alarms == []
    assert room.sweep().is_done


def test_job_that_was_taken_out_of_approved_passes_when_it_is_measured_again(room):
    with_another_sheet(approved(room))
    check(room)
    room.drop("1041.csv", sheet(GOOD, operator="second"))
    room.sweep()
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
    assert check(room).alarms == []


def test_nothing_is_doubted_while_a_folder_is_away(room):
    approved(room)
    (room.site.held / ".gatekeeper" / "site-id").unlink()
    outlook = check(room)
    assert "is away" in outlook.alarms[0]
    assert room.decisions() == {"1041": "approved", "1042": "approved"}


def test_program_that_dies_while_it_takes_a_job_out_of_approved_takes_it_out_once(rooms):
    probe = rooms()
    with_another_sheet(approved(probe))
    disk = DyingDisk()
    check(probe, disk)
    for after in range(0, disk.done, 7):
        room = rooms()
        with_another_sheet(approved(room))
        with contextlib.suppress(Died):
            check(room, DyingDisk(after))
        room.sweep()
        check(room)
        assert room.decisions() == {"1041": "held", "1042": "approved"}
        folder = room.site.held / "liquid-plate" / "1041"
        assert len(list(folder.glob("doubt-*.txt"))) == 1
