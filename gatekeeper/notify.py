"""Words to systemd: a datagram to $NOTIFY_SOCKET, sent without ever waiting for a reader."""

from __future__ import annotations

import contextlib
import os
import socket


def notify(**words: str) -> None:
    """Send notices such as READY="1" or STATUS="3 jobs filed"; outside systemd nothing happens."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    message = "\n".join(f"{key}={value}" for key, value in words.items()).encode()
    target = "\0" + address[1:] if address.startswith("@") else address
    # A stalled reader blocks a sender after a few datagrams: a notice that cannot go is dropped.
    with (
        contextlib.suppress(OSError),
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as sender,
    ):
        sender.sendto(message, target)


def watchdog_interval_s() -> float | None:
    """Return half the time within which systemd wants a sign of life, None when it wants none."""
    stated = os.environ.get("WATCHDOG_USEC", "")
    owner = os.environ.get("WATCHDOG_PID", "")
    if not stated.isdecimal() or (owner and owner != str(os.getpid())):
        return None
    return int(stated) / 2_000_000
