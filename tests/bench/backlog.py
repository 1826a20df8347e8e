"""A backlog of typed sheets, drained by the gate, over a bare loop on the same disk.

durable verdict   both sides flush what they must
pure judging      both sides on a filesystem in memory, where a flush costs nothing
group commit      fifty jobs abreast over one by one
where it goes     the gate's time by what it is spent on
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING
from unittest.mock import patch

from gatekeeper import gate, judge
from gatekeeper.filing.disk import Disk
from gatekeeper.filing.wholedisk import WholeDisks
from gatekeeper.history.record import History
from gatekeeper.intake import reading
from gatekeeper.rounds import side_by_side
from gatekeeper.rounds.sweeping import sweep_once
from tests.bench import bare
from tests.bench.room import WORKFLOW, PlateRoom
from tests.bench.table import Figure, ms, print_table

if TYPE_CHECKING:
    from collections.abc import Callable

IN_MEMORY = Path("/dev/shm")
_TIMED = (
    ("read: parse and validate", reading, "read_sheet"),
    ("measure", judge, "measure"),
    ("check", judge, "run_checks"),
    ("report", gate, "report_text"),
    ("database", History, "remember_many"),
    ("flush", WholeDisks, "flush"),
    ("flush", Disk, "flush"),
)
"""What is timed: the name that is called, where it is looked up."""


def measure(sheets: int, *, times: int = 3) -> list[Figure]:
    """Return the figures of backlogs of so many sheets, each the median of so many runs."""
    durable = [_both(sheets, durable=True) for _ in range(times)]
    pure = [_both(sheets, durable=False, below=IN_MEMORY) for _ in range(times)]
    return [
        _ratio("durable verdict", durable, sheets, "2.0"),
        _ratio("pure cost of judging", pure, sheets, "12"),
        _abreast(sheets, times),
        *_where_it_goes(sheets),
    ]


def _ratio(measure: str, runs: list[tuple[float, float]], sheets: int, aim: str) -> Figure:
    ratio = median([gate / loop for gate, loop in runs])
    gate, loop = (median(side) / sheets for side in zip(*runs, strict=True))
    how = f"{sheets} sheets, gate {ms(gate)} ÷ bare loop {ms(loop)} a job"
    return Figure(measure, f"{ratio:.1f}", f"at most {aim}", how)


def _both(sheets: int, *, durable: bool, below: Path | None = None) -> tuple[float, float]:
    """Return the seconds of the gate and of the bare loop over the same sheets."""
    with _room(sheets, below) as room:
        copy = room.site.root.parent / "bare"
        names = shutil.ignore_patterns(".gatekeeper")
        shutil.copytree(room.site.drop / WORKFLOW, copy / "in", ignore=names)
        loop = bare.drain(copy / "in", copy / "out", durable=durable)
        return _drain(room), loop


@contextmanager
def _room(sheets: int, below: Path | None = None) -> Iterator[PlateRoom]:
    with tempfile.TemporaryDirectory(dir=below) as folder:
        room = PlateRoom.at(Path(folder) / "site")
        room.drop(sheets)
        yield room


def _drain(room: PlateRoom) -> float:
    rounds = room.rounds()
    begin = time.perf_counter()
    outlook = sweep_once(rounds)
    took = time.perf_counter() - begin
    rounds.ledger.history.close()
    if len(outlook.filed) != room.dropped or outlook.alarms:
        raise SystemExit(f"{len(outlook.filed)} of {room.dropped} were filed: {outlook.alarms}")
    return took


def _abreast(sheets: int, times: int) -> Figure:
    ratios = []
    for _ in range(times):
        with _room(sheets) as room, patch.object(side_by_side, "MOST_JOBS", 1):
            alone = _drain(room)
        with _room(sheets) as room:
            ratios.append(_drain(room) / alone)
    how = f"{sheets} sheets, fifty abreast ÷ one by one"
    return Figure("group commit", f"{median(ratios):.2f}", "below 1", how)


def _where_it_goes(sheets: int) -> list[Figure]:
    """Time what the gate calls, in a run of its own: the stopwatch costs a little itself."""
    spent: dict[str, float] = {}
    with _room(sheets) as room, ExitStack() as watches:
        for what, place, name in _TIMED:
            watch = _Watch(getattr(place, name), spent, what)
            watches.enter_context(patch.object(place, name, watch))
        whole = _drain(room)
    spent["filing, and everything else"] = whole - sum(spent.values())
    return [
        Figure(
            f"where it goes: {what}", f"{seconds / whole:.0%}", "–", f"{ms(seconds / sheets)} a job"
        )
        for what, seconds in sorted(spent.items(), key=lambda entry: -entry[1])
    ]


class _Watch:
    """Stands in for a function or a method, and adds up its time."""

    def __init__(self, call: Callable[..., object], spent: dict[str, float], what: str) -> None:
        self._call, self._spent, self._what = call, spent, what

    def __get__(self, instance: object, _: object) -> Callable[..., object]:
        return partial(self, instance) if instance is not None else self

    def __call__(self, *arguments: object, **named: object) -> object:
        begin = time.perf_counter()
        try:
            result = self._call(*arguments, **named)
            return list(result) if isinstance(result, Iterator) else result
        finally:
            took = time.perf_counter() - begin
            self._spent[self._what] = self._spent.get(self._what, 0.0) + took


if __name__ == "__main__":
    print_table(measure(int(sys.argv[1]) if len(sys.argv) > 1 else 2_000))
