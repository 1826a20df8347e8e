"""A backlog of typed sheets through the gate, over a bare loop on the same disk."""

from __future__ import annotations
import sys, time, tempfile, shutil, cProfile, pstats, os
from pathlib import Path
from tests.bench.room import PlateRoom, NoFlush, WORKFLOW
from tests.bench import bare
from gatekeeper.rounds.sweeping import sweep_once


def main():
    n = int(sys.argv[1])
    durable = sys.argv[2] == "1"
    prof = len(sys.argv) > 3
    base = Path(tempfile.mkdtemp(dir=os.environ.get("BENCH", "/tmp")))
    room = PlateRoom.at(base / "site")
    room.drop(n)
    other = base / "bare"
    other.mkdir()
    shutil.copytree(
        room.site.drop / WORKFLOW, other / "in", ignore=shutil.ignore_patterns(".gatekeeper")
    )
    os.sync()
    b = bare.drain(other / "in", other / "out", durable=durable)
    if not durable:
        os.fsync_real = os.fsync
        os.fsync = lambda h: None
    rounds = room.rounds()
    if prof:
        p = cProfile.Profile()
        p.enable()
    t = time.perf_counter()
    c = time.process_time()
    out = sweep_once(rounds)
    t = time.perf_counter() - t
    c = time.process_time() - c
    if prof:
        p.disable()
        pstats.Stats(p).sort_stats("cumtime").print_stats(70)
        pstats.Stats(p).sort_stats("tottime").print_stats(40)
    print(
        len(out.filed),
        sum(f.decision == "approved" for f in out.filed),
        out.alarms[:2],
        [f.reason for f in out.filed if f.decision == "held"][:2],
    )
    print(
        f"bare {b / n * 1e3:.3f} gate {t / n * 1e3:.3f} cpu {c / n * 1e3:.3f} ms a job ratio {t / b:.2f}"
    )
    shutil.rmtree(base)


main()
