"""What stands in approved without being approved is taken to held, whatever kills the program."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import threading

import pytest
from disks import Died, DyingDisk
from plate_room import GOOD, WEAK, sheet

from gatekeeper.errors import RoomError
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.doubt import BY_HAND, NO_VERDICT, NOT_APPROVED, OTHER_FILES, OTHER_PLACE
from gatekeeper.rounds.approved import Lookout, look_at_approved


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
    with pytest.raises(RoomError, match="is away"):
        check(room)
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


def test_folder_that_cannot_be_read_is_told_and_the_others_are_checked(room):
    with_another_sheet(approved(room))
    (room.site.approved / "liquid-plate" / "1040").mkdir()
    unreadable = str(room.site.approved / "liquid-plate" / "1040" / "verdict.json")

    class BadMedium(Disk):
        def lstat(self, path):
            self._refuse(path)
            return super().lstat(path)

        def read(self, path, most):
            self._refuse(path)
            return super().read(path, most)

        def _refuse(self, path):
            if str(path) == unreadable:
                raise OSError(errno.EIO, os.strerror(errno.EIO), unreadable)

    outlook = check(room, BadMedium())
    assert any("1040 cannot be checked" in alarm for alarm in outlook.alarms), outlook.alarms
    assert any(f"job 1041: {OTHER_FILES}" in alarm for alarm in outlook.alarms)
    assert room.decisions()["1041"] == "held"


@pytest.mark.parametrize("shelf", ["My own shelf", "Liquid-Plate", "übrig"])
def test_job_that_was_changed_on_a_shelf_that_a_hand_has_made_is_taken_to_held(room, shelf):
    folder = moved_by_hand(approved(room), shelf, "1041")
    (folder / "1041.csv").write_bytes(b"other readings")
    assert check(room).alarms == [f"job 1041: {OTHER_FILES}"]
    assert not folder.exists()
    assert check(room).alarms == []
    assert room.sweep().is_done


def test_job_where_no_ticket_would_find_it_is_told_and_left(room):
    folder = moved_by_hand(approved(room), "a%20b", "1041")
    (folder / "1041.csv").write_bytes(b"other readings")
    for _ in range(2):
        (alarm,) = check(room).alarms
        assert alarm == f"job 1041: {OTHER_FILES} (a%20b/1041); {BY_HAND}"
        assert folder.exists()


@pytest.mark.parametrize("place", ["liquid-plate/9999", "stencil/1041", "liquid-plate/1042 (copy)"])
def test_job_under_another_name_than_its_verdicts_is_told_and_left(room, place):
    folder = moved_by_hand(approved(room), *place.split("/"))
    (alarm,) = check(room).alarms
    assert OTHER_PLACE in alarm
    assert place in alarm
    assert folder.exists()


def test_spelling_of_a_job_that_came_later_is_no_other_place(room):
    room.drop("one.csv", sheet(WEAK, job="QC-7"))
    room.sweep()
    room.drop("two.csv", sheet(GOOD, job="qc-7", operator="second"))
    room.sweep()
    assert room.decisions() == {"QC-7": "approved"}
    assert check(room).alarms == []


def moved_by_hand(folder, shelf, name):
    target = folder.parents[1] / shelf / name
    target.parent.mkdir(exist_ok=True)
    return folder.rename(target)


def test_look_that_is_told_to_stop_ends_between_two_jobs(room):
    with_another_sheet(approved(room))
    asked = iter([False, True])
    looked = look_at_approved(Disk(), room.rounds().roots, lambda: next(asked))
    assert [doubtful.name.job for doubtful in looked.doubts] == ["1041"]


def test_look_in_a_thread_of_its_own_changes_nothing_and_ends_with_a_word(room):
    with_another_sheet(approved(room))
    ended = threading.Event()
    lookout = Lookout(Disk(), room.rounds().roots, ended.set)
    lookout.begin()
    assert ended.wait(30)
    assert [doubtful.name.job for doubtful in lookout.result().doubts] == ["1041"]
    assert room.decisions() == {"1041": "approved", "1042": "approved"}


def test_look_while_a_folder_is_away_raises_where_its_result_is_asked_for(room):
    (room.site.held / ".gatekeeper" / "site-id").unlink()
    ended = threading.Event()
    lookout = Lookout(Disk(), room.rounds().roots, ended.set)
    lookout.begin()
    assert ended.wait(30)
    with pytest.raises(RoomError, match="is away"):
        lookout.result()


def test_job_that_was_measured_again_since_the_look_stays_where_it_is(room):
    folder = approved(room)
    before = (folder / "1041.csv").read_bytes()
    with_another_sheet(folder)
    rounds = room.rounds()
    looked = look_at_approved(Disk(), rounds.roots)
    (folder / "1041.csv").write_bytes(before)
    assert rounds.check_approved(looked).alarms == []
    rounds.ledger.history.close()
    assert room.decisions() == {"1041": "approved", "1042": "approved"}
