"""Where lines go: to the journal where it listens, else to standard error."""

from __future__ import annotations

import logging
import os
import sys
import time
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.logs.damper import Damper
from gatekeeper.logs.journal import JournalHandler, is_journal, priority
from gatekeeper.logs.lines import KeyValue

if TYPE_CHECKING:
    from collections.abc import Callable

log = logging.getLogger(__name__)


class Outlet(logging.Handler):
    """The one handler of the program: drops repetitions, then hands each line to its sinks."""

    def __init__(
        self, *sinks: logging.Handler, monotonic: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__()
        self.sinks = list(sinks)
        self._damper = Damper(monotonic)

    @override
    def emit(self, record: logging.LogRecord) -> None:
        """Write a line wherever lines go."""
        line = self._damper.let_through(record)
        for sink in self.sinks if line else ():
            sink.handle(line or record)

    @override
    def close(self) -> None:
        """Let go of files."""
        for sink in self.sinks:
            sink.close()
        super().close()


class StandardError(logging.Handler):
    """Writes to whatever standard error is at that moment.

    Parameters
    ----------
    with_priority : begin each line with its severity, as sd-daemon(3) says
    """

    def __init__(self, *, with_priority: bool = False) -> None:
        super().__init__()
        self._with_priority = with_priority
        self.setFormatter(KeyValue())

    @override
    def emit(self, record: logging.LogRecord) -> None:
        """Write a line; where standard error is closed there is nobody to tell that."""
        mark = f"<{priority(record.levelno)}>" if self._with_priority else ""
        try:
            sys.stderr.write(f"{mark}{self.format(record)}\n")
            sys.stderr.flush()
        except (OSError, ValueError, AttributeError):
            return


def begin(*, is_verbose: bool) -> Outlet:
    """Make the outlet of the program, in place of one that an earlier call has made."""
    in_journal = is_journal(os.environ)
    sink: logging.Handler = StandardError(with_priority=in_journal)
    outlet = Outlet(JournalHandler(sink) if in_journal else sink)
    root = logging.getLogger()
    for former in [handler for handler in root.handlers if isinstance(handler, Outlet)]:
        root.removeHandler(former)
        former.close()
    root.addHandler(outlet)
    root.setLevel(logging.INFO if is_verbose else logging.WARNING)
    logging.getLogger("gatekeeper").setLevel(logging.NOTSET)
    return outlet
