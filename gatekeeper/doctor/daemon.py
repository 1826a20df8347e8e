"""Whether the gate is at work and is what is installed, and what it says is wrong."""

from __future__ import annotations

import platform
import sqlite3
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.screens.alarms import START, silence
from gatekeeper.screens.present import read_present
from gatekeeper.screens.waiting import waiting_now
from gatekeeper.single import is_at_work
from gatekeeper.wording import counted
from gatekeeper.workshop import PROGRAM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward
    from gatekeeper.rounds.outlook import Waiting

MOST_WAITING = 20


def version(ward: Ward) -> Iterator[Answer]:
    """Look what is installed, and whether the daemon at work is that."""
    site = ward.site
    present = read_present(site.state)
    own = f"{PROGRAM}, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    if present and present.program != PROGRAM and is_at_work(site.state, site.gate):
        says = f"{present.program} is at work, {PROGRAM} is installed"
        yield look("version", says, "restart the daemon: systemctl restart gatekeeper@SITE")
    else:
        yield ok("version", own)


def daemon(ward: Ward) -> Iterator[Answer]:
    """Look whether the gate is at work, and ask it what waits and what is wrong."""
    site = ward.site
    present = read_present(site.state)
    if is_at_work(site.state, site.gate) is False:
        yield look("daemon", "not running: nothing is judged", START)
        yield from _waiting(waiting_now(site), START)
        return
    silent = silence(site, present, ward.around.clock.now())
    if silent:
        yield broken("daemon", silent.says, silent.do)
    else:
        yield ok("daemon", f"running, last round {present.at}" if present else "running")
    for alarm in present.alarms if present else ():
        yield broken("alarm", alarm, "the daemon goes on by itself as soon as that is mended")
    yield from _waiting(present.waiting if present else (), "gatekeeper board shows how it goes on")


def _waiting(entries: tuple[Waiting, ...], do: str) -> Iterator[Answer]:
    for entry in entries[:MOST_WAITING]:
        says = f"{entry.name} in {entry.folder}: {entry.reason}"
        yield look("waiting", says, do)
    if len(entries) > MOST_WAITING:
        more = counted(len(entries) - MOST_WAITING, "more file")
        yield look("waiting", more, "gatekeeper jobs --state waiting lists all")
