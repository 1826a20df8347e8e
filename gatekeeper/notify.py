"""Words to systemd: a datagram to $NOTIFY_SOCKET, sent without waiting for ever for a reader.

Source: sd_notify(3).
"""

from __future__ import annotations

import contextlib
import os
import socket

TURN_S = 5.0
"""For a word that systemd waits for (s)."""

PATIENCE_S = 120
"""From one sign of life to the next, one job or one answer of a share passes (s)."""


def notify(*, wait_s: float = 0.0, **words: str) -> None:
    """Send notices such as READY="1" or STATUS="3 waiting"; outside systemd nothing happens.

    Parameters
    ----------
    wait_s : how long to wait for a reader that is behind; a notice that cannot go then is dropped
    """
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    # A line break in a value would be a word of its own.
    lines = (f"{key}={' '.join(value.splitlines())}" for key, value in words.items())
    message = "\n".join(lines).encode("utf-8", "replace")
    target = "\0" + address[1:] if address.startswith("@") else address
    # A stalled reader blocks a sender after a few datagrams, and would for ever.
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.settimeout(wait_s)
        sender.sendto(message, target)


def sign_of_life() -> None:
    """Tell the watchdog that work goes on; while starting or ending, ask for more time to do it."""
    notify(WATCHDOG="1", EXTEND_TIMEOUT_USEC=str(PATIENCE_S * 1_000_000))
