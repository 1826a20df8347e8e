"""Single keys from a terminal, without waiting for Enter; nothing where there is no terminal."""

from __future__ import annotations

import os
import select
import sys
import termios
import tty
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

_NAMES = {
    b" ": "on",
    b"\x1b[B": "on",
    b"\x1b[C": "on",
    b"\x1b[6~": "on",
    b"j": "on",
    b"\x1b[A": "back",
    b"\x1b[D": "back",
    b"\x1b[5~": "back",
    b"k": "back",
    b"\x1b[H": "first",
    b"\x1b[1~": "first",
    b"\x0c": "repaint",
    b"q": "end",
    b"Q": "end",
}
"""What keys mean: arrows and page keys as terminals send them, letters for those without."""


class Keyboard:
    """The keys pressed since the last question."""

    def __init__(self, handle: int | None) -> None:
        self._handle = handle

    def wait(self, longest_s: float) -> str:
        """Return what the next key means, empty when none that means anything came in time."""
        handles = [] if self._handle is None else [self._handle]
        ready, _, _ = select.select(handles, [], [], longest_s)
        if not ready or self._handle is None:
            return ""
        try:
            pressed = os.read(self._handle, 64)
        except OSError:
            pressed = b""
        if not pressed:  # the terminal has gone: nobody will press a key any more
            self._handle = None
        return _NAMES.get(pressed, "")


@contextmanager
def keyboard() -> Iterator[Keyboard]:
    """Take keys one by one for as long as the block lasts, then leave the terminal as it was."""
    if not sys.stdin.isatty():
        yield Keyboard(None)
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    try:
        yield Keyboard(handle)
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)
