"""Where lines go."""

import errno
import io
import logging
import os
import sys
import threading

import pytest

from gatekeeper.errors import RoomError
from gatekeeper.logs.daemon import RotatingFile, catch_last_words, write_to_file
from gatekeeper.logs.journal import JournalHandler
from gatekeeper.logs.outlet import Outlet, StandardError, begin
from gatekeeper.logs.settings import LogBlock


class Full(io.StringIO):
    """A file on a disk without room."""

    def write(self, text):
        raise OSError(errno.ENOSPC, f"no room for {len(text)} characters")


@pytest.fixture(autouse=True)
def _root_as_before():
    root = logging.getLogger()
    handlers, level = list(root.handlers), root.level
    yield
    for handler in [handler for handler in root.handlers if handler not in handlers]:
        root.removeHandler(handler)
        handler.close()
    root.handlers[:] = handlers
    root.setLevel(level)


def outlets():
    return [handler for handler in logging.getLogger().handlers if isinstance(handler, Outlet)]


def test_second_beginning_takes_the_place_of_the_first(capsys):
    begin(is_verbose=False)
    begin(is_verbose=True)
    assert len(outlets()) == 1
    logging.getLogger("gatekeeper.x").info("once")
    assert capsys.readouterr().err.count("message=once") == 1


def test_news_is_said_only_on_request(capsys):
    begin(is_verbose=False)
    logging.getLogger("gatekeeper.x").info("news")
    logging.getLogger("gatekeeper.x").warning("trouble")
    said = capsys.readouterr().err
    assert "news" not in said
    assert "level=warning from=x message=trouble\n" in said


def test_journal_is_used_when_standard_error_leads_there(monkeypatch):
    found = os.fstat(2)
    monkeypatch.setenv("JOURNAL_STREAM", f"{found.st_dev}:{found.st_ino}")
    assert isinstance(begin(is_verbose=False).sinks[0], JournalHandler)
    monkeypatch.setenv("JOURNAL_STREAM", "1:1")
    assert isinstance(begin(is_verbose=False).sinks[0], StandardError)


def test_line_for_the_journal_on_standard_error_carries_its_severity(capsys):
    sink = StandardError(with_priority=True)
    sink.handle(logging.LogRecord("gatekeeper", logging.ERROR, "x.py", 1, "broke", (), None))
    assert capsys.readouterr().err.startswith("<3>at=")


def test_closed_standard_error_ends_nothing(monkeypatch):
    closed = io.StringIO()
    closed.close()
    for stream in (None, closed):
        monkeypatch.setattr(sys, "stderr", stream)
        StandardError().handle(
            logging.LogRecord("gatekeeper", logging.ERROR, "x.py", 1, "broke", (), None)
        )


def test_file_of_the_site_is_put_aside_when_it_is_full(tmp_path):
    begin(is_verbose=True)
    write_to_file(LogBlock(file="log", max_bytes="2000", kept="2"), tmp_path)
    for number in range(100):
        logging.getLogger("gatekeeper.x").info("line %d", number)
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["log", "log.1", "log.2"]
    assert all(path.stat().st_size <= 2000 for path in tmp_path.iterdir())
    assert (tmp_path / "log").read_text().endswith('message="line 99"\n')


def test_site_that_asks_for_no_file_gets_none(tmp_path):
    begin(is_verbose=False)
    write_to_file(LogBlock(), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_file_that_cannot_be_opened_says_what_to_do(tmp_path):
    with pytest.raises(RoomError) as error:
        write_to_file(LogBlock(file="away/log"), tmp_path)
    assert error.value.where == str(tmp_path / "away/log")
    assert "`log` in site.yaml" in error.value.do


def test_line_that_the_file_cannot_take_goes_to_standard_error(tmp_path, capsys):
    sink = RotatingFile(tmp_path / "log", max_bytes=0, kept=1)
    sink.stream.close()
    sink.stream = Full()
    sink.handle(logging.LogRecord("gatekeeper", logging.ERROR, "x.py", 1, "broke", (), None))
    said = capsys.readouterr().err
    assert said.endswith("message=broke\n")
    assert "Traceback" not in said


def test_error_that_nobody_handles_is_one_line(monkeypatch, capsys):
    monkeypatch.setattr(sys, "excepthook", sys.__excepthook__)
    monkeypatch.setattr(threading, "excepthook", threading.__excepthook__)
    begin(is_verbose=False)
    catch_last_words()
    logging.captureWarnings(capture=False)
    thread = threading.Thread(target=int, args=("two",), name="observer")
    thread.start()
    thread.join()
    try:
        int("two")
    except ValueError:
        sys.excepthook(*sys.exc_info())
    first, second = capsys.readouterr().err.splitlines()
    assert "level=critical" in first
    assert 'message="a fault of the program ends its thread observer" trace=' in first
    assert 'message="a fault of the program ends it" trace=' in second
