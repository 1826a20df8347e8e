"""A morning of any events in any order: drops, measuring again, deaths, restarts, edited rules.

Whatever comes, every file that was dropped exists once, each sheet has one verdict, and where a job
stands is what the rules that were in force make of its newest sheet.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from functools import cache
from pathlib import Path

import pytest
from disks import Died, DyingDisk
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule, run_state_machine_as_test
from plate_room import OPENED, PlateRoom, sheet

from gatekeeper.filing.disk import Disk
from gatekeeper.layout import lay_out
from gatekeeper.room import read_book
from gatekeeper.rounds.sweeping import sweep_once
from gatekeeper.workshop import rounds_of

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
MEMORY = Path("/dev/shm")  # noqa: S108 -- where it is, a filesystem in memory
RULES = "workflows/liquid-plate.yaml"
USUAL, TIGHT = b"min: 2.70", b"min: 2.85"
SOLIDS = {"2.10": 0.0, "2.80": 2.80, "2.90": 2.90}
"""What a sheet may read, and the highest limit that it meets."""


@cache
def folder() -> Path:
    return Path(tempfile.mkdtemp(dir=MEMORY if os.access(MEMORY, os.W_OK) else None))


@cache
def pattern() -> Path:
    lay_out(folder() / "pattern", Disk())
    return folder() / "pattern"


class Morning(RuleBasedStateMachine):
    """One plate room, and what must be true of it."""

    def __init__(self):
        super().__init__()
        self.room = PlateRoom.copy_of(pattern(), Path(tempfile.mkdtemp(dir=folder())) / "room")
        self.limit = 2.70
        self.number = 0
        self.expected: dict[str, str] = {}
        self.is_under_way = False
        self.has_died = False

    @rule(
        job=st.sampled_from(["1041", "1042", "QC-7"]),
        solid=st.sampled_from(sorted(SOLIDS)),
        has_artwork=st.booleans(),
        in_folder=st.booleans(),
    )
    def drop(self, job, solid, has_artwork, in_folder):
        self.number += 1
        stem = f"{self.number:03}"  # sheets of one look are judged in the order of names
        content = sheet(solid, job=job, customer="Pennyroyal Preserves", operator=stem)
        place = f"{stem}/" if in_folder else ""
        self.room.drop(f"{place}{stem}.csv", content)
        if has_artwork:
            self.room.drop(f"{place}{stem}.pdf", f"artwork {stem}".encode())
        self.expected[job] = "approved" if SOLIDS[solid] >= self.limit else "held"
        self.is_under_way = True
        if in_folder:
            self.sweep()  # in one look folders come behind files, whatever their names

    @precondition(lambda self: self.is_under_way and not self.has_died)
    @rule(after=st.integers(0, 500))
    def die(self, after):
        self.has_died = True  # two deaths on one undecided ticket are another test's
        try:
            self._go(DyingDisk(after))
        except Died:
            return
        self.has_died = False

    @rule()
    def sweep(self):
        outlook = self._go(Disk())
        assert not outlook.alarms, outlook.alarms
        self.is_under_way = self.has_died = False
        self.room.require_sound()
        assert self.room.decisions() == self.expected

    @precondition(lambda self: not self.is_under_way)
    @rule()
    def edit_rules(self):
        path = self.room.site.root / RULES
        old, new = (USUAL, TIGHT) if self.limit < 2.85 else (TIGHT, USUAL)
        text = path.read_bytes()
        assert old in text
        path.write_bytes(text.replace(old, new, 1))
        self.limit = 2.85 if new == TIGHT else 2.70

    def _go(self, disk):
        book = read_book(self.room.site)
        rounds = rounds_of(self.room.site, self.room.clock, lambda: book, settle_s=0.0, disk=disk)
        OPENED.append(rounds.ledger.history)
        try:
            return sweep_once(rounds)
        finally:
            rounds.ledger.history.close()

    def teardown(self):
        self.sweep()
        shutil.rmtree(self.room.site.root.parent)


@pytest.mark.timeout(3600 if WHOLE else 180)
def test_any_morning_leaves_each_file_once_and_each_job_where_its_rules_want_it():
    run_state_machine_as_test(
        Morning,
        settings=settings(
            max_examples=400 if WHOLE else 10,
            stateful_step_count=25 if WHOLE else 10,
            deadline=None,
            derandomize=not WHOLE,
            phases=(Phase.generate, Phase.shrink) if WHOLE else (Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )
    shutil.rmtree(folder())
    folder.cache_clear()
    pattern.cache_clear()
