"""Lines to the systemd journal with their fields, so that `journalctl JOB=1044` finds them.

Source: Native Journal Protocol, https://systemd.io/JOURNAL_NATIVE_PROTOCOL/. Each field goes out
with its length, so that no text inside can pass for another field.
"""

from __future__ import annotations

import contextlib
import logging
import os
import socket
from typing import TYPE_CHECKING

from typing_extensions import override

from gatekeeper.logs.fields import fields_of
from gatekeeper.logs.lines import escaped, message_of, trace_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

SOCKET = "/run/systemd/journal/socket"
NAME = "gatekeeper"

_PATIENCE_S = 1.0
_STDERR = 2


def is_journal(environment: Mapping[str, str], descriptor: int = _STDERR) -> bool:
    """Whether a descriptor leads into the journal: systemd names its device and inode."""
    with contextlib.suppress(OSError):
        found = os.fstat(descriptor)
        return environment.get("JOURNAL_STREAM", "") == f"{found.st_dev}:{found.st_ino}"
    return False


class JournalHandler(logging.Handler):
    """Sends each line as one datagram; what the journal does not take goes to `otherwise`.

    Parameters
    ----------
    otherwise : takes what could not be sent; that the journal is away is no reason to lose a line
    address : the journal's socket
    """

    def __init__(self, otherwise: logging.Handler, address: str = SOCKET) -> None:
        super().__init__()
        self._otherwise = otherwise
        self._address = address

    @override
    def emit(self, record: logging.LogRecord) -> None:
        """Send a line."""
        try:
            # A socket for each line: a journal that was started again has another one behind it.
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
                sender.settimeout(_PATIENCE_S)
                sender.sendto(datagram(record), self._address)
        except OSError:
            self._otherwise.handle(record)


def priority(level: int) -> int:
    """Return the syslog severity (RFC 5424, section 6.2.1) of a level."""
    steps = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))
    return next((severity for least, severity in steps if level >= least), 7)


def datagram(record: logging.LogRecord) -> bytes:
    """Return a record as the journal takes it."""
    return b"".join(
        name.encode("ascii") + b"\n" + len(data).to_bytes(8, "little") + data + b"\n"
        for name, text in _fields(record)
        for data in (text.encode("utf-8", "backslashreplace"),)
    )


def _fields(record: logging.LogRecord) -> Iterator[tuple[str, str]]:
    trace = trace_of(record)
    # The journal indents what follows the first line, so a trace cannot pass for lines of its own.
    yield "MESSAGE", escaped(message_of(record)) + (f"\n{trace}" if trace else "")
    yield "PRIORITY", str(priority(record.levelno))
    yield "SYSLOG_IDENTIFIER", NAME
    yield "CODE_FILE", record.pathname
    yield "CODE_LINE", str(record.lineno)
    yield "CODE_FUNC", record.funcName or ""
    yield "LOGGER", record.name
    for name, text in fields_of(record).items():
        yield name.upper(), text
