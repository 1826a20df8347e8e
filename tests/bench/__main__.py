"""All benchmarks: `python -m tests.bench`, some minutes; `--full` for the numbers of the handbook.

Prints a table and never fails on a time. Run it on a machine that does nothing else: ratios forgive
a slow one, not a busy one.
"""

from __future__ import annotations

import argparse
import os
import platform

from tests.bench import backlog, commands, daemon, growth, rehearsing
from tests.bench.table import print_table


def main() -> None:
    """Run what was asked for."""
    options = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    options.add_argument("--full", action="store_true", help="as many jobs as the aims name")
    full = options.parse_args().full
    system = f"{platform.system()} {platform.release()}, Python {platform.python_version()}"
    print(f"{system}, {os.cpu_count()} cores\n")
    print_table(backlog.measure(2_000 if full else 300))
    print_table([daemon.latency(200 if full else 50)])
    print_table([daemon.memory(100_000 if full else 6_000)])
    print_table([daemon.idle()])
    print_table(commands.measure())
    rehearsing.main(["--jobs", "100000" if full else "5000"])
    growth.main(["--jobs", "1000000" if full else "50000"])


if __name__ == "__main__":
    main()
