"""A morning of any events in any order: drops, slow writers, slips, deaths, starts, edited rules.

Whatever comes, every file that was dropped exists once, each sheet and slip has one verdict,
nothing is taken before it is at rest, and each verdict is what the rules in force make of it.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest
from disks import Died, DyingDisk
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule, run_state_machine_as_test
from plate_room import PlateRoom, lay_out_pattern, sheet
from program import HandClock, Program
from trail import Given, digest, trail_of

from gatekeeper.slips.slip import Slip, SlipKind

WHOLE = os.environ.get("GATEKEEPER_CRASH") == "whole"
MEMORY = Path("/dev/shm")  # noqa: S108 -- where it is, a filesystem in memory
RULES = "workflows/liquid-plate.yaml"
SETTLE_S, UNENDED_S = 4.0, 10.0
USUAL, TIGHT = 2.70, 2.85
SOLIDS = {"2.10": 0.0, "2.80": 2.80, "2.90": 2.90}
"""What a sheet may read, and the highest limit that it meets."""

JOBS = st.sampled_from(["1041", "1042", "QC-7"])
FLAWS = st.sampled_from(["stale", "no reason", "another job", "another kind"])


class InForce(NamedTuple):
    """What the program goes by."""

    limit: float
    has_leads: bool


@dataclass(frozen=True)
class Dropped:
    """A sheet as far as it was written."""

    meets: float  # the highest limit
    is_whole: bool
    number: int  # in the order of drops; 0 for one that may be overtaken


@dataclass
class Writer:
    """Somebody who writes a sheet in pieces and closes it after each."""

    path: Path
    content: bytes
    meets: float
    done: int = 0


@cache
def folder() -> Path:
    return Path(tempfile.mkdtemp(dir=MEMORY if os.access(MEMORY, os.W_OK) else None))


@cache
def pattern() -> Path:
    return lay_out_pattern(folder() / "pattern")


def cuts(content: bytes) -> list[int]:
    """Return where a writer may pause: what is there then names the job, and is not all of it.

    Not inside the separation's name: half a name is another separation.
    """
    separation = content.index(b"separation,") + len(b"separation,")
    named = range(separation + 1, content.index(b"\n", separation))
    first, last = content.index(b"\n"), content.rindex(b",")
    return [cut for cut in range(first, last + 1) if cut not in named]


class Morning(RuleBasedStateMachine):
    """One plate room, and what must be true of it."""

    def __init__(self):
        super().__init__()
        self.room = PlateRoom.copy_of(pattern(), Path(tempfile.mkdtemp(dir=folder())) / "room")
        self.clock = self.room.clock = HandClock()
        self.program: Program | None = None
        self.has_died = False
        self.number = 0
        self.written = self.force = InForce(USUAL, has_leads=True)
        self.forces = {self.force}  # any of them may have judged since the last look that ended
        self.sheets: dict[str, Dropped] = {}
        self.slips: dict[str, Slip] = {}
        self.touched: dict[Path, tuple[float, float]] = {}  # when, and how long it must rest
        self.writers: list[Writer] = []
        self.judged: set[str] = set()

    # -- what people do -----------------------------------------------------------------------

    @rule(
        job=JOBS,
        solid=st.sampled_from(sorted(SOLIDS)),
        has_artwork=st.booleans(),
        in_folder=st.booleans(),
    )
    def drop(self, job, solid, has_artwork, in_folder):
        stem, content = self._new_sheet(job, solid)
        place = f"{stem}/" if in_folder else ""
        self._touch(self.room.drop(f"{place}{stem}.csv", content))
        # In one look folders come behind files, whatever their names.
        number = 0 if in_folder else self.number
        self.sheets[digest(content)] = Dropped(SOLIDS[solid], is_whole=True, number=number)
        if has_artwork:
            self._touch(self.room.drop(f"{place}{stem}.pdf", f"artwork {stem}".encode()))

    @rule(job=JOBS, solid=st.sampled_from(sorted(SOLIDS)), share=st.floats(0, 1))
    def begin_slowly(self, job, solid, share):
        stem, content = self._new_sheet(job, solid)
        writer = Writer(
            self.room.site.drop / "liquid-plate" / f"{stem}.csv", content, SOLIDS[solid]
        )
        self.writers.append(writer)
        self._write(writer, cuts(content)[int(share * (len(cuts(content)) - 1))])

    @precondition(lambda self: self.writers)
    @rule(share=st.floats(0, 1), ends=st.booleans())
    def grow(self, share, ends):
        writer = self.writers.pop(0)
        ahead = [cut for cut in cuts(writer.content) if cut > writer.done]
        if ends or not ahead or not writer.path.exists():
            self._write(writer, len(writer.content))
        else:
            self._write(writer, ahead[int(share * (len(ahead) - 1))])
            self.writers.append(writer)

    @precondition(lambda self: self._filed())
    @rule(pick=st.integers(0, 2))
    def release_or_recall(self, pick):
        self._hand_in_slip(pick, "")

    @precondition(lambda self: self._filed())
    @rule(pick=st.integers(0, 2), flaw=FLAWS)
    def hand_in_a_bad_slip(self, pick, flaw):
        self._hand_in_slip(pick, flaw)

    @precondition(lambda self: not self.has_died)
    @rule()
    def edit_rules(self):
        old, new = (USUAL, TIGHT) if self.written.limit == USUAL else (TIGHT, USUAL)
        self._edit(RULES, f"min: {old:.2f}", f"min: {new:.2f}")
        self.written = self.written._replace(limit=new)

    @precondition(lambda self: not self.has_died)
    @rule()
    def edit_leads(self):
        me, nobody = f'leads: ["{os.getuid()}"]', "leads: [nobody-here]"
        self._edit("site.yaml", *((me, nobody) if self.written.has_leads else (nobody, me)))
        self.written = self.written._replace(has_leads=not self.written.has_leads)

    # -- what becomes of it -------------------------------------------------------------------

    @rule(seconds=st.sampled_from([1.0, 3.0, 6.0, 12.0]))
    def let_time_pass(self, seconds):
        self.clock.count += seconds

    @rule()
    def look(self):
        outlook = self._go()
        assert not outlook.alarms, outlook.alarms

    @precondition(lambda self: not self.has_died)  # two on one undecided ticket: another test's
    @rule(after=st.integers(0, 300))
    def die(self, after):
        try:
            for _ in range(2):  # the first look may be the first that sees a file
                self.clock.count += 12.0
                self._go(after)
        except Died:
            self.has_died = True
            self._end()

    @precondition(lambda self: self.program)
    @rule()
    def restart(self):
        self._end()

    @rule()
    def rest(self):
        """Let everything come to rest, and look at all that was promised."""
        for _ in range(4):
            self.clock.count += 12.0
            outlook = self._go()
            assert not outlook.alarms, outlook.alarms
        assert outlook.is_done, outlook.waiting
        self.room.require_sound()

    def teardown(self):
        for writer in self.writers:
            self._write(writer, len(writer.content))
        self.rest()
        self._end()
        shutil.rmtree(self.room.site.root.parent)

    # -- how ----------------------------------------------------------------------------------

    def _new_sheet(self, job, solid):
        self.number += 1
        stem = f"{self.number:03}"  # sheets of one look are judged in the order of names
        return stem, sheet(solid, job=job, customer="Pennyroyal Preserves", operator=stem)

    def _hand_in_slip(self, pick, flaw):
        self.number += 1
        filed = self._filed()
        place = filed[pick % len(filed)]
        is_held = self.room.site.held in place.parents
        kind = SlipKind.CONCESSION if is_held != (flaw == "another kind") else SlipKind.RECALL
        slip = Slip(
            kind,
            "1043" if flaw == "another job" else place.name,
            place.parent.name,
            "0" * 64 if flaw == "stale" else digest((place / "verdict.json").read_bytes()),
            f"lead {self.number}",
            "" if flaw == "no reason" else "agreed with the customer",
        )
        name = f"slip-{self.number:03}.csv"
        self._touch(self.room.drop(name, slip.to_bytes(), "concessions"))
        self.slips[digest(slip.to_bytes())] = slip

    def _filed(self):
        return [
            place
            for (_, shelf, _), place in self.room.job_folders().items()
            if shelf == "liquid-plate"
        ]

    def _touch(self, path):
        content = path.read_bytes()
        rest_s = UNENDED_S if path.suffix == ".csv" and not content.endswith(b"\n") else SETTLE_S
        self.touched[path] = self.clock.count, rest_s

    def _write(self, writer, upto):
        """Write on; a writer whose file was taken copies all of it once more."""
        if writer.done and writer.path.exists():
            self.room.dropped.remove(writer.content[: writer.done])
            with writer.path.open("ab") as file:
                file.write(writer.content[writer.done : upto])
            self.room.dropped.append(writer.content[:upto])
        else:
            self.room.drop(writer.path.name, writer.content[:upto])
        writer.done = upto
        is_whole = upto == len(writer.content)
        self.sheets[digest(writer.content[:upto])] = Dropped(writer.meets, is_whole, number=0)
        self._touch(writer.path)

    def _edit(self, name, old, new):
        path = self.room.site.root / name
        text = path.read_text()
        assert old in text
        beside = path.with_suffix(".edited")
        beside.write_text(text.replace(old, new, 1))
        beside.replace(path)

    def _go(self, dies_after=None):
        self.clock.count += 0.25
        if self.program is None:
            self.program = Program(self.room.site.root, self.clock, DyingDisk(), settle_s=SETTLE_S)
            self.force = self.written
        elif self.program.follow():
            self.force = self.written
        self.forces.add(self.force)
        disk = self.program.disk
        disk.left = None if dies_after is None else disk.done + dies_after
        try:
            with self._nothing_taken_early():
                outlook = self.program.look()
        finally:
            disk.left = None
        self.has_died = False
        self._judge()
        self.forces = {self.force}
        return outlook

    @contextmanager
    def _nothing_taken_early(self):
        now = self.clock.count
        early = [
            path
            for path, (since, rest_s) in self.touched.items()
            if path.exists() and now - since < rest_s
        ]
        try:
            yield
        finally:
            taken = [path.name for path in early if not path.exists()]
            assert not taken, f"taken before they were at rest: {taken}"

    def _end(self):
        if self.program:
            self.program.end()
        self.program = None

    # -- what must be true --------------------------------------------------------------------

    def _judge(self):
        """Hold every new verdict against what was dropped and what was in force."""
        folders = self.room.job_folders().items()
        trails = {(shelf, job): trail_of(place) for (_, shelf, job), place in folders}
        for (shelf, job), trail in trails.items():
            numbers = [self.sheets[given.own].number for given in trail if given.own in self.sheets]
            in_order = list(filter(None, numbers))
            assert in_order == sorted(in_order), f"{job} was judged in the order {in_order}"
            for before, given in pairwise([None, *trail]):
                if given.ticket in self.judged:
                    continue
                self.judged.add(given.ticket)
                if given.own in self.slips:
                    self._judge_slip(given, trails, is_refused=shelf == "concessions")
                else:
                    expected = {self._decision(given, force) for force in self.forces}
                    assert given.decision in expected, f"{job}: {given.says}"
                    assert given.document["concession"] is None
                    assert given.document["was"] == (before.decision if before else "")

    def _decision(self, given: Given, force: InForce) -> str:
        dropped = self.sheets[given.own]
        return "approved" if dropped.is_whole and dropped.meets >= force.limit else "held"

    def _judge_slip(self, given, trails, *, is_refused):
        slip = self.slips[given.own]
        earlier = [g for g in trails.get((slip.workflow, slip.job), []) if g.ticket < given.ticket]
        expected = {not self._counts(slip, earlier, force) for force in self.forces}
        assert is_refused in expected, f"{slip}: {given.says}"
        is_release = slip.kind is SlipKind.CONCESSION and not is_refused
        assert given.decision == ("approved" if is_release else "held")
        assert (slip.by in (given.document["concession"] or "")) is is_release

    def _counts(self, slip: Slip, earlier: list[Given], force: InForce) -> bool:
        """Whether a slip is a lead's word, with a reason, on the job as it stands."""
        wanted = "held" if slip.kind is SlipKind.CONCESSION else "approved"
        if not (force.has_leads and slip.reason and earlier):
            return False
        return earlier[-1].sha256 == slip.verdict and earlier[-1].decision == wanted


@pytest.mark.timeout(3600 if WHOLE else 180)
def test_any_morning_leaves_each_file_once_and_each_job_where_its_rules_want_it():
    run_state_machine_as_test(
        Morning,
        settings=settings(
            max_examples=400 if WHOLE else 12,
            stateful_step_count=40 if WHOLE else 25,
            deadline=None,
            derandomize=not WHOLE,
            phases=(Phase.generate, Phase.shrink) if WHOLE else (Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )
    shutil.rmtree(folder())
    folder.cache_clear()
    pattern.cache_clear()
