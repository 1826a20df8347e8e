"""Two gates on one drop folder: each job is taken by one, and a dead gate's work is finished."""

from __future__ import annotations

import contextlib
import errno
import itertools
import os
import shutil
from dataclasses import replace
from datetime import timedelta

import pytest
from disks import Died, DyingDisk, HookedDisk
from plate_room import GOOD, WEAK, PlateRoom, sheet
from trail import digest

from gatekeeper.filing.attempts import JOB_FILE
from gatekeeper.filing.lease import DEAD_S, LEASE, RENEWED_S, Lease
from gatekeeper.site import read_site
from gatekeeper.slips.slip import Slip, SlipKind

STEP = 1 if os.environ.get("GATEKEEPER_CRASH") == "whole" else 23


class Gates:
    """Two gates, each with a state of its own, that share drop, approved and held."""

    def __init__(self, room: PlateRoom, pattern) -> None:
        self.room = room
        root = room.site.root.with_name(f"{room.site.root.name}-second")
        shutil.copytree(pattern, root)
        lines = ["", "gate: gate-2", "folders:"]
        lines += [f"  {name}: {room.site.root / name}" for name in ("drop", "approved", "held")]
        with (root / "site.yaml").open("a") as file:
            file.write("\n".join([*lines, ""]))
        second = PlateRoom(read_site(root), pattern, room.clock)
        self.second = second.rounds()
        self.second.go()  # it has its folders, so each sees the other

    def first(self, disk=None):
        return self.room.rounds(disk)

    def work(self, rounds, times: int = 4) -> None:
        for _ in range(times):
            self.outlook = rounds.go()

    def wait_until_dead(self) -> None:
        """Let the second gate look for as long as it takes to call the first one dead."""
        self.second.go()
        self.room.clock.count += DEAD_S + 1
        self.work(self.second)

    def require_sound(self, decisions: dict[str, str]) -> None:
        known = set(self.room.history_tickets())
        with self.second.ledger.history as history:
            lines = [line.line for job in decisions for line in history.job(job)]
        self.room.require_sound(other_history=known | {line.ticket for line in lines})
        assert self.room.decisions() == decisions

    def close(self, *rounds) -> None:
        for one in (self.second, *rounds):
            one.ledger.history.close()


@pytest.fixture
def gates(room, pattern):
    return Gates(room, pattern)


@pytest.fixture
def many(rooms, pattern):
    return lambda: Gates(rooms(), pattern)


def drop_two(room) -> None:
    room.drop("1041-c.csv", sheet(GOOD, separation="cyan", separations="2"))
    room.drop("1041-k.csv", sheet(GOOD, separations="2"))
    room.drop("1041-k.pdf", b"artwork")


def test_sheet_that_the_other_gate_took_first_is_left_to_it(gates):
    def second_takes_it(operation, paths):
        if operation == "rename" and paths[0].name == "1041.csv" and not acted:
            acted.append(1)
            gates.work(gates.second)

    acted = []
    gates.room.drop("1041.csv", sheet(GOOD))
    first = gates.first(HookedDisk(second_takes_it))
    gates.work(first)
    gates.close(first)
    assert acted
    gates.require_sound({"1041": "approved"})


@pytest.mark.parametrize("fails_from", [1, 2, 6, 7])
def test_a_word_for_the_other_gate_that_cannot_be_left_is_told_and_ends_no_round(gates, fails_from):
    """A share that stumbles: at the round's start, before a drop folder, in a batch."""
    words, is_away = [], [True]  # of one drop folder, so one a renewal

    def stumble(_, paths):
        if paths[-1].name == LEASE and "liquid-plate" in paths[-1].parts:
            words.append(paths[-1])
            if is_away[0] and len(words) >= fails_from:
                raise OSError(errno.ESTALE, os.strerror(errno.ESTALE), str(paths[-1]))

    boot = itertools.count(step=RENEWED_S)  # each word is due
    first = gates.first(HookedDisk(stumble))
    first.lease = Lease(lambda: float(next(boot)))
    gates.room.drop("1041.csv", sheet(GOOD))
    gates.work(first, times=2)
    assert [alarm for alarm in gates.outlook.alarms if os.strerror(errno.ESTALE) in alarm]
    is_away[0] = False
    first.lease = Lease()
    gates.work(first)
    assert not gates.outlook.alarms
    gates.close(first)
    gates.require_sound({"1041": "approved"})


def test_gates_that_work_at_the_same_time_file_a_job_of_two_sheets_once(many):
    counting = DyingDisk()
    probe = many()
    drop_two(probe.room)
    probe.work(probe.first(counting))
    for after in range(0, counting.done, STEP):
        gates = many()
        changes = [0]

        def let_the_other_work(*_, gates=gates, changes=changes, after=after):
            changes[0] += 1
            if changes[0] == after:
                gates.work(gates.second)

        drop_two(gates.room)
        first = gates.first(HookedDisk(let_the_other_work))
        gates.work(first)
        gates.work(gates.second)
        gates.work(first)
        gates.close(first)
        gates.require_sound({"1041": "approved"})


def test_live_gates_work_is_left_alone_and_a_dead_ones_is_finished_once(many):
    counting = DyingDisk()
    probe = many()
    drop_two(probe.room)
    probe.work(probe.first(counting))
    for after in range(3, counting.done, STEP):
        gates = many()
        drop_two(gates.room)
        first = gates.first(DyingDisk(after))
        with contextlib.suppress(Died):
            gates.work(first)
        gates.work(gates.second)
        gates.wait_until_dead()
        gates.work(gates.second)
        gates.close(first)
        gates.require_sound({"1041": "approved"})


@pytest.mark.parametrize("knows_that_it_slept", [True, False])
def test_gate_that_was_only_asleep_gives_no_second_verdict(many, knows_that_it_slept):
    counting = DyingDisk()
    probe = many()
    drop_two(probe.room)
    probe.work(probe.first(counting))
    for after in range(5, counting.done, STEP):
        gates = many()
        boot = [0.0]
        changes = [0]

        def sleep(*_, gates=gates, boot=boot, changes=changes, after=after):
            changes[0] += 1
            if changes[0] == after:
                gates.wait_until_dead()
                boot[0] += DEAD_S if knows_that_it_slept else 0.0

        drop_two(gates.room)
        first = gates.first(HookedDisk(sleep))
        first.lease = Lease(lambda boot=boot: boot[0])
        gates.work(first)
        gates.work(gates.second)
        gates.work(first)
        gates.close(first)
        gates.require_sound({"1041": "approved"})


def test_ticket_of_a_gate_that_lives_is_not_taken_however_long_it_waits(gates):
    taken = gates.room.site.approved / "liquid-plate" / "1041"

    def take_the_name(operation, paths):
        if operation == "create" and paths[0].name == "tmp-sheet":
            (taken / "x").mkdir(parents=True, exist_ok=True)

    boot = [0.0]
    gates.room.drop("1041.csv", sheet(GOOD))
    first = gates.first(HookedDisk(take_the_name))
    first.lease = Lease(lambda: boot[0])
    gates.work(first)
    for _ in range(12):
        boot[0] += 60
        gates.room.clock.count += 60
        first.go()
        gates.second.go()
    claims = gates.room.site.drop / "liquid-plate" / ".gatekeeper"
    assert [path.name for path in (claims / "gate-1").iterdir() if path.is_dir()]
    assert not [path for path in (claims / "gate-2").iterdir() if path.is_dir()]
    shutil.rmtree(taken)
    first.go()
    gates.close(first)
    gates.require_sound({"1041": "approved"})


def test_later_sheet_of_a_job_waits_while_the_other_gate_has_the_job(gates):
    taken = gates.room.site.approved / "liquid-plate" / "1041"

    def take_the_name(operation, paths):
        if operation == "create" and paths[0].name == "tmp-sheet":
            (taken / "x").mkdir(parents=True, exist_ok=True)

    gates.room.drop("1041.csv", sheet(GOOD))
    first = gates.first(HookedDisk(take_the_name))
    gates.work(first)
    gates.room.drop("1041-again.csv", sheet(WEAK, operator="second"))
    gates.work(gates.second)
    (waiting,) = gates.outlook.waiting
    assert "waits until its earlier sheet is filed" in waiting.reason
    assert not gates.outlook.alarms
    shutil.rmtree(taken)
    gates.work(first)
    gates.work(gates.second)
    gates.close(first)
    gates.require_sound({"1041": "held"})


def test_gate_that_is_alone_leaves_no_word(room):
    room.drop("1041.csv", sheet(GOOD))
    room.sweep()
    assert not list(room.site.drop.rglob("lease"))


def test_gates_have_names_of_their_own(gates):
    assert gates.second.site.gate == "gate-2"
    assert replace(gates.room.site).gate == "gate-1"


def test_slip_releases_no_verdict_that_another_gate_gave_while_it_was_taken_up(gates):
    room = gates.room
    room.drop("1041.csv", sheet("2.80"))
    room.sweep()
    read = digest((room.site.held / "liquid-plate/1041/verdict.json").read_bytes())
    slip = Slip(SlipKind.CONCESSION, "1041", "liquid-plate", read, "Ada Lead", "agreed")
    room.drop("slip.csv", slip.to_bytes(), "concessions")
    acted = []

    def second_judges_a_weak_sheet(operation, paths):
        if operation == "create" and paths[0].name == f"{JOB_FILE}.new" and not acted:
            acted.append(1)
            room.drop("again.csv", sheet(WEAK))
            room.clock.time -= timedelta(hours=1)  # of a machine whose clock is behind
            gates.work(gates.second)
            room.clock.time += timedelta(hours=1)

    first = gates.first(HookedDisk(second_judges_a_weak_sheet))
    gates.work(first)
    gates.close(first)
    assert acted
    gates.require_sound({"1041": "held"})
    assert "has changed since the slip was written" in room.says("1041")


@pytest.fixture
def behind(gates):
    """Let the second gate work with a clock that is an hour behind; return how long it took."""

    def work() -> timedelta:
        gates.room.clock.time -= timedelta(hours=1)
        before = gates.room.clock.time
        gates.work(gates.second)
        took = gates.room.clock.time - before
        gates.room.clock.time += timedelta(hours=1)
        return took

    return work


def test_sheet_of_a_gate_whose_clock_is_behind_counts_as_the_newest(gates, behind):
    room = gates.room
    room.drop("1041.csv", sheet(GOOD))
    first = gates.first()
    gates.work(first)
    room.drop("again.csv", sheet(WEAK, operator="KL"))
    room.drop("again.pdf", b"artwork")
    assert behind() < timedelta(minutes=5), "it went round until the hour was over"
    gates.require_sound({"1041": "held"})
    room.drop("third.csv", sheet(GOOD, operator="MM"))
    gates.work(first)
    gates.close(first)
    gates.require_sound({"1041": "approved"})


def test_names_that_are_used_again_keep_a_sheet_of_a_slow_clock_from_going_back(gates, behind):
    room = gates.room
    room.drop("1041.csv", sheet(GOOD))
    first = gates.first()
    gates.work(first)

    def drop_again(operation, *paths):
        if operation == "rename" and paths[1].name == "job.json" and not acted:
            acted.append(room.drop("again.csv", sheet(WEAK, operator="MM")))

    acted = []
    gates.second.disk.before = drop_again
    room.drop("again.csv", sheet(GOOD, operator="KL"))
    room.drop("again.pdf", b"artwork")
    behind()
    gates.close(first)
    assert acted
    gates.require_sound({"1041": "held"})
