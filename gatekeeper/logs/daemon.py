"""What the daemon's log has beyond a command's: a file if the site asks, and its last words."""

from __future__ import annotations

import logging
import sys
import threading
from logging.handlers import RotatingFileHandler
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.errors import RoomError
from gatekeeper.logs.lines import KeyValue
from gatekeeper.logs.outlet import Outlet, StandardError

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType

    from gatekeeper.logs.settings import LogBlock

log = logging.getLogger(__name__)


class RotatingFile(RotatingFileHandler):
    """A file that is put aside at its size; a line that it cannot take goes to standard error."""

    def __init__(self, path: Path, *, max_bytes: int, kept: int) -> None:
        super().__init__(
            path, maxBytes=max_bytes, backupCount=kept, encoding="utf-8", errors="backslashreplace"
        )
        self.setFormatter(KeyValue())
        self._otherwise = StandardError()

    @override
    def handleError(self, record: logging.LogRecord) -> None:
        """Write elsewhere what could not be written here: the disk is full, the folder gone."""
        self._otherwise.handle(record)


def write_to_file(settings: LogBlock, root: Path) -> None:
    """Write the log into the site's file as well, where it names one.

    Raises
    ------
    RoomError : the file cannot be opened
    """
    if settings.file is None:
        return
    path = root / settings.file
    try:
        file = RotatingFile(path, max_bytes=settings.max_bytes, kept=settings.kept)
    except OSError as error:
        raise RoomError(
            f"the log cannot be written: {error.strerror}",
            where=str(path),
            do="give the gate's user the right to write there, or change `log` in site.yaml",
        ) from error
    for outlet in logging.getLogger().handlers:
        if isinstance(outlet, Outlet):
            outlet.sinks.append(file)


def catch_last_words() -> None:
    """Let an error that nobody handles end in the log as one line, whichever thread it ends."""
    sys.excepthook = _of_program
    threading.excepthook = _of_thread
    logging.captureWarnings(capture=True)


def _of_program(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    log.critical("a fault of the program ends it", exc_info=(kind, error, trace))


def _of_thread(ended: threading.ExceptHookArgs) -> None:
    name = ended.thread.name if ended.thread else "unknown"
    error = ended.exc_value
    trace = (type(error), error, ended.exc_traceback) if error else None
    log.critical("a fault of the program ends its thread %s", name, exc_info=trace)
