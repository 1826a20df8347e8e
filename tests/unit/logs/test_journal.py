"""What the journal receives, taken apart by systemd.io/JOURNAL_NATIVE_PROTOCOL."""

import logging
import os
import socket
import sys

import pytest

from gatekeeper.logs import fields
from gatekeeper.logs.journal import JournalHandler, is_journal, priority


class Kept(logging.Handler):
    """Keeps what it is handed."""

    def __init__(self):
        super().__init__()
        self.records = []

    def emit(self, record):
        self.records.append(record)


@pytest.fixture
def journal(tmp_path):
    """The journal's end of the socket."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / "journal"))
        listener.settimeout(5)
        yield listener


def taken_apart(datagram):
    """Return the fields; the protocol has NAME, newline, length in 64 bits, data, newline."""
    found = {}
    while datagram:
        name, _, rest = datagram.partition(b"\n")
        length = int.from_bytes(rest[:8], "little")
        found[name.decode("ascii")] = rest[8 : 8 + length].decode("utf-8")
        assert rest[8 + length : 9 + length] == b"\n"
        datagram = rest[9 + length :]
    return found


def sent(journal, message, *, level=logging.INFO, error=None, **named):
    record = logging.LogRecord("gatekeeper.gate", level, "/x/gate.py", 7, message, (), error, "go")
    record.__dict__.update(fields(**named))
    JournalHandler(Kept(), journal.getsockname()).handle(record)
    return taken_apart(journal.recv(65536))


def test_line_goes_out_with_job_workflow_and_verdict(journal):
    assert sent(journal, "1044 held", job="1044", workflow="liquid-plate", verdict="held") == {
        "MESSAGE": "1044 held",
        "PRIORITY": "6",
        "SYSLOG_IDENTIFIER": "gatekeeper",
        "CODE_FILE": "/x/gate.py",
        "CODE_LINE": "7",
        "CODE_FUNC": "go",
        "LOGGER": "gatekeeper.gate",
        "JOB": "1044",
        "WORKFLOW": "liquid-plate",
        "VERDICT": "held",
    }


def test_newlines_forge_neither_a_field_nor_a_line(journal):
    found = sent(journal, "9\nPRIORITY=0\nVERDICT=approved", job="9\nVERDICT=approved")
    assert found["MESSAGE"] == "9\\nPRIORITY=0\\nVERDICT=approved"
    assert found["JOB"] == "9\nVERDICT=approved"
    assert found["PRIORITY"] == "6"
    assert "VERDICT" not in found


def test_trace_follows_the_message(journal):
    try:
        int("two")
    except ValueError:
        found = sent(journal, "broke", level=logging.ERROR, error=sys.exc_info())
    first, second, *_ = found["MESSAGE"].splitlines()
    assert (first, second) == ("broke", "Traceback (most recent call last):")
    assert found["PRIORITY"] == "3"


def test_name_of_no_encoding_is_sent_as_an_escape(journal):
    assert sent(journal, "x", job="caf\udce9")["JOB"] == "caf\\udce9"


def test_line_is_not_lost_while_the_journal_is_away(tmp_path):
    otherwise = Kept()
    record = logging.LogRecord("gatekeeper", logging.INFO, "x.py", 1, "1044 held", (), None)
    JournalHandler(otherwise, str(tmp_path / "nobody")).handle(record)
    assert otherwise.records == [record]


def test_severities_are_those_of_syslog():
    # RFC 5424, section 6.2.1, table 2: critical 2, error 3, warning 4, informational 6, debug 7.
    levels = (logging.CRITICAL, logging.ERROR, logging.WARNING, logging.INFO, logging.DEBUG)
    assert [priority(level) for level in levels] == [2, 3, 4, 6, 7]


def test_journal_is_known_by_device_and_inode_of_the_descriptor(tmp_path):
    with (tmp_path / "stream").open("w") as stream:
        found = os.fstat(stream.fileno())
        fits = {"JOURNAL_STREAM": f"{found.st_dev}:{found.st_ino}"}
        assert is_journal(fits, stream.fileno())
        # Inherited by a shell that has sent its own output elsewhere.
        assert not is_journal({"JOURNAL_STREAM": f"{found.st_dev}:1"}, stream.fileno())
        assert not is_journal({}, stream.fileno())
        closed = os.dup(stream.fileno())
        os.close(closed)
        assert not is_journal(fits, closed)
