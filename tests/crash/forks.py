"""The real program, loaded once and forked for each run: a thousand runs load it once.

Run as a program it sweeps a site to have everything loaded, and then serves its standard input: a
line with a site and a file begins a sweep in a fork, which stands still until it gets SIGCONT; a
line with a number waits for that fork and says how it ended.
"""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import NoReturn

CHECKOUT = Path(__file__).parents[2]
_SET_PTRACER, _ANYBODY = 0x59616D61, -1
"""prctl(2): where only parents may trace, this process may be traced by whoever asks."""


class Forks:
    """The server, as tests see it."""

    def __init__(self, site: Path, environment: dict[str, str]) -> None:
        self._server = subprocess.Popen(
            [sys.executable, __file__, str(site)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            cwd=CHECKOUT,
            text=True,
            bufsize=1,
        )
        assert self._ask() == "ready"

    def begin(self, site: Path, said: Path) -> int:
        """Return the number of a process that stands still before it sweeps the site."""
        return int(self._ask(f"{site}\t{said}"))

    def end(self, process: int) -> int:
        """Wait for it and return its exit status, below zero for the signal that ended it."""
        return int(self._ask(str(process)))

    def close(self) -> None:
        """End the server."""
        self._server.stdin.close()
        self._server.wait(10)
        self._server.stdout.close()

    def _ask(self, line: str = "") -> str:
        if line:
            self._server.stdin.write(f"{line}\n")
        return self._server.stdout.readline().strip()


def traced_by(process: int, tracer: subprocess.Popen) -> bool:
    """Wait until a process is traced; return whether it ever was before the tracer gave up."""
    while tracer.poll() is None:
        status = Path(f"/proc/{process}/status").read_text("ascii")
        if "TracerPid:\t0\n" not in status:
            return True
        time.sleep(0.001)
    return False


def _serve(site: str) -> None:
    _sweep(site)
    _say("ready")
    for line in sys.stdin:
        word, _, said = line.rstrip("\n").partition("\t")
        if said:
            _say(_begun(word, said))
        else:
            _, status = os.waitpid(int(word), 0)
            _say(os.waitstatus_to_exitcode(status))


def _say(answer: object) -> None:
    sys.stdout.write(f"{answer}\n")
    sys.stdout.flush()


def _sweep(site: str) -> int:
    from gatekeeper.cli.base import run  # noqa: PLC0415 -- tests import this file for `Forks` alone
    from gatekeeper.cli.entry import gatekeeper  # noqa: PLC0415

    with open(os.devnull, "w") as nowhere:  # noqa: PTH123
        sys.stdout, before = nowhere, sys.stdout
        try:
            return run(gatekeeper, ["--site", site, "sweep", "--settle", "0"])
        finally:
            sys.stdout = before


def _begun(site: str, said: str) -> int:
    process = os.fork()
    if process == 0:
        _in_fork(site, said)
    os.waitpid(process, os.WUNTRACED)
    return process


def _in_fork(site: str, said: str) -> NoReturn:
    code = 70
    try:
        os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT, 0o600), 2)
        ctypes.CDLL(None).prctl(_SET_PTRACER, _ANYBODY, 0, 0, 0)
        os.kill(os.getpid(), signal.SIGSTOP)
        code = _sweep(site)
        sys.stderr.flush()
    finally:
        os._exit(code)


if __name__ == "__main__":
    _serve(sys.argv[1])
