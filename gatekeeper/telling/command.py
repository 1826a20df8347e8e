"""Runs the administrator's command for one event: no shell, a time limit, nothing left behind."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import tempfile
from typing import TYPE_CHECKING

from gatekeeper.telling.event import Event, arguments_of, to_bytes
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.telling.settings import TellBlock

LONGEST_REASON = 300

_OURS = ("NOTIFY_SOCKET", "WATCHDOG_PID", "WATCHDOG_USEC", "JOURNAL_STREAM", "INVOCATION_ID")
"""What systemd says to the daemon alone."""


def tell(settings: TellBlock, event: Event, here: Path) -> str:
    """Run the command with the event on its standard input; return why it failed, "" if it did not.

    Parameters
    ----------
    here : the folder that it runs in
    """
    words = arguments_of(settings.command, event)
    environment = {name: value for name, value in os.environ.items() if name not in _OURS}
    # Files, not pipes: a grandchild that keeps a pipe open would keep us waiting for its end.
    with tempfile.TemporaryFile() as given, tempfile.TemporaryFile() as said:
        given.write(to_bytes(event))
        given.seek(0)
        try:
            process = subprocess.Popen(  # noqa: S603 -- words of site.yaml, no shell
                words,
                stdin=given,
                stdout=said,
                stderr=subprocess.STDOUT,
                cwd=here,
                env=environment,
                start_new_session=True,
            )
        except (OSError, ValueError) as error:
            return f"it cannot be run: {getattr(error, 'strerror', None) or error}"
        return _end_of(process, settings.limit_s) or _status(process, said.fileno())


def _end_of(process: subprocess.Popen[bytes], limit_s: float) -> str:
    try:
        process.wait(limit_s)
    except subprocess.TimeoutExpired:
        return f"it had not ended after {limit_s:g} s"
    finally:
        # Its own session is its process group: whatever it has started ends with it.
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    return ""


def _status(process: subprocess.Popen[bytes], said: int) -> str:
    if process.returncode == 0:
        return ""
    size = os.fstat(said).st_size
    tail = os.pread(said, LONGEST_REASON, max(0, size - LONGEST_REASON))
    words = plain(" ".join(tail.decode("utf-8", "replace").split()), LONGEST_REASON)
    ended = f"it ended with status {process.returncode}"
    return f"{ended}: {words}" if words else ended
