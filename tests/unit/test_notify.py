"""Words to systemd, as sd_notify(3) wants them."""

import socket
import threading

import pytest

from gatekeeper.notify import notify, sign_of_life


@pytest.fixture
def systemd(tmp_path, monkeypatch):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / "notify"))
        listener.settimeout(5)
        monkeypatch.setenv("NOTIFY_SOCKET", listener.getsockname())
        yield listener


def test_each_word_is_a_line(systemd):
    notify(READY="1", STATUS="3 waiting, 0 alarms")
    assert systemd.recv(4096) == b"READY=1\nSTATUS=3 waiting, 0 alarms"


def test_line_break_in_a_value_makes_no_word_of_its_own(systemd):
    notify(STATUS="1041\nMAINPID=1\u2028STOPPING=1")
    assert systemd.recv(4096).decode() == "STATUS=1041 MAINPID=1 STOPPING=1"


def test_name_of_no_encoding_is_sent_all_the_same(systemd):
    notify(STATUS="caf\udce9")
    assert systemd.recv(4096) == b"STATUS=caf?"


def test_sign_of_life_asks_for_more_time_while_starting(systemd):
    sign_of_life()
    assert systemd.recv(4096) == b"WATCHDOG=1\nEXTEND_TIMEOUT_USEC=120000000"


def test_word_that_matters_waits_for_a_reader_that_is_behind(systemd):
    for _ in range(1000):
        notify(WATCHDOG="1")
    notify(READY="1", wait_s=0.01)  # the reader stays behind: it is given up
    heard = []
    reader = threading.Thread(
        target=lambda: heard.extend(iter(lambda: systemd.recv(99), b"READY=1"))
    )
    waiting = threading.Thread(target=lambda: notify(READY="1", wait_s=5.0))
    waiting.start()
    reader.start()
    waiting.join()
    reader.join()
    assert set(heard) == {b"WATCHDOG=1"}


def test_abstract_address_begins_with_a_zero_byte(monkeypatch):
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind("\0gatekeeper-test-notify")
        listener.settimeout(5)
        monkeypatch.setenv("NOTIFY_SOCKET", "@gatekeeper-test-notify")
        notify(READY="1")
        assert listener.recv(4096) == b"READY=1"


def test_reader_that_never_reads_and_one_that_is_gone_hold_nobody_up(
    systemd, monkeypatch, tmp_path
):
    for _ in range(1000):
        notify(WATCHDOG="1")
    assert systemd.recv(4096) == b"WATCHDOG=1"
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    notify(READY="1")
    monkeypatch.delenv("NOTIFY_SOCKET")
    notify(READY="1")
