"""What a command costs before it does anything, over the import of its largest library."""

from __future__ import annotations

import subprocess
import sys
import time

from tests.bench.table import Figure, ms, print_table

_HELP = [sys.executable, "-m", "gatekeeper", "--help"]
_BARE = [sys.executable, "-c", "import pydantic"]


def measure(times: int = 21) -> list[Figure]:
    """Return the start of a command, the least of so many runs taken in turns."""
    gate, bare = [], []
    for _ in range(times):
        gate.append(_seconds(_HELP))
        bare.append(_seconds(_BARE))
    how = f"least of {times}: {ms(min(gate))} ÷ `import pydantic` {ms(min(bare))}"
    return [Figure("start of a command", f"{min(gate) / min(bare):.2f}", "at most 2", how)]


def _seconds(command: list[str]) -> float:
    begin = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)  # noqa: S603
    return time.perf_counter() - begin


if __name__ == "__main__":
    print_table(measure())
