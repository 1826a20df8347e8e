"""Keys as terminals send them, on a real pseudo-terminal."""

import os
import pty
import termios
from pathlib import Path

import pytest

from gatekeeper.cli.keyboard import Keyboard, keyboard


@pytest.fixture
def terminal(monkeypatch):
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "r") as file:
        monkeypatch.setattr("sys.stdin", file)
        yield ours, theirs
    os.close(ours)


@pytest.mark.parametrize(
    ("sent", "means"),
    [
        (b" ", "on"),
        (b"\x1b[B", "on"),
        (b"\x1b[6~", "on"),
        (b"\x1b[A", "back"),
        (b"\x1b[H", "first"),
        (b"\x0c", "repaint"),
        (b"q", "end"),
        (b"x", ""),
    ],
)
def test_keys_are_taken_without_enter(terminal, sent, means):
    ours, _ = terminal
    with keyboard() as keys:
        os.write(ours, sent)
        assert keys.wait(5) == means


def test_the_terminal_is_left_as_it_was(terminal):
    _, theirs = terminal
    before = termios.tcgetattr(theirs)
    with keyboard():
        assert termios.tcgetattr(theirs) != before
    assert termios.tcgetattr(theirs) == before


@pytest.mark.usefixtures("terminal")
def test_no_key_in_time_means_nothing():
    with keyboard() as keys:
        assert keys.wait(0) == ""


def test_without_a_terminal_there_are_no_keys(monkeypatch):
    with Path(os.devnull).open() as nowhere:
        monkeypatch.setattr("sys.stdin", nowhere)
        with keyboard() as keys:
            assert keys.wait(0) == ""


def test_a_terminal_that_goes_away_is_not_asked_again():
    read, write = os.pipe()
    os.close(write)
    keys = Keyboard(read)
    assert keys.wait(0) == ""
    os.close(read)
    assert keys.wait(0) == ""  # a closed handle would raise here
