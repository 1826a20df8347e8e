"""What is wrong with the room, in words and with what mends it: for board and page.

The daemon tells what it met; that it is silent, only somebody else can tell.
"""

from __future__ import annotations

import shutil
from datetime import datetime
from typing import TYPE_CHECKING

from gatekeeper.rounds.outlook import says_and_do
from gatekeeper.screens.dues import expiries, worth_saying
from gatekeeper.screens.present import NOW_FILE
from gatekeeper.show.lines import LONGEST
from gatekeeper.show.moments import day, moment
from gatekeeper.show.room_facts import Alarm, Due
from gatekeeper.single import is_at_work
from gatekeeper.system_errors import MOUNT_ANEW, advice, error_of, is_read_only
from gatekeeper.wording import plain

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from gatekeeper.room import Book
    from gatekeeper.screens.present import Present
    from gatekeeper.site import Site

FILLING_BYTES = 500_000_000
"""Free space below which somebody should make room, long before nothing new is taken in."""

PATIENCE_S = 60.0
ROUNDS_MISSED = 4
"""The daemon writes once a round; so many missed, and at least so long, is silence."""

STUCK = (
    "its log (journalctl -u gatekeeper) and gatekeeper doctor tell if it can write;"
    " if it is stuck, restart it"
)
START = "start it: gatekeeper run (as a service: systemctl start gatekeeper@SITE)"


def silence(site: Site, present: Present | None, now: datetime) -> Alarm | None:
    """Return the alarm that no gate is at work, None while one is."""
    runs = is_at_work(site.state, site.gate)
    if present is None:
        return None if runs else _unheard(site)
    at = _said(present.at, site)
    if runs is False:
        return Alarm(
            f"NOTHING IS JUDGED: the gate is not at work; its last word was at {at}", START
        )
    # The file's own time, not what it says: a demo's clock stands on a day of its own.
    written = (site.state / NOW_FILE).stat().st_mtime
    longest_s = max(PATIENCE_S, ROUNDS_MISSED * site.settings.rescan_s)
    if now.timestamp() - written > longest_s:
        says = f"NO WORD FROM THE GATE since {at}: it is very busy, or stuck"
        return Alarm(says, STUCK)
    return None


def _unheard(site: Site) -> Alarm:
    """Return the alarm that a gate has said nothing, or that nobody here can hear it."""
    heard = error_of((site.state / NOW_FILE).read_bytes)
    if heard is None or isinstance(heard, FileNotFoundError):
        return Alarm("NOTHING IS JUDGED: no gate is at work here", START)
    says = f"NO WORD FROM THE GATE: {heard.strerror}: {plain(str(site.state), 200)}"
    return Alarm(says, advice(heard))


def alarms_of(site: Site, present: Present | None) -> Iterator[Alarm]:
    """Yield what the daemon met and what the disk says, the gravest first."""
    if present:
        for alarm in present.alarms:
            yield Alarm(*says_and_do(plain(alarm, LONGEST)))
        for problem in present.broken_rules:
            do = "mend that line: until then its jobs wait"
            yield Alarm(f"RULES BROKEN: {plain(problem, LONGEST)}", do)
        for problem in present.coming_rules:
            do = "mend that line before that day: until then its jobs are judged, then they wait"
            yield Alarm(f"RULES TO MEND IN TIME: {plain(problem, LONGEST)}", do)
    yield from _space(site)


def dues_of(book: Book, today: date) -> tuple[Due, ...]:
    """Return what runs out soon or has run out, for a screen."""
    return tuple(
        Due(
            subject=plain(expiry.subject, LONGEST),
            says=expiry.says,
            day=day(expiry.last_day),
            is_over=expiry.last_day < today,
            workflows=tuple(map(plain, expiry.workflows)),
            do=expiry.do,
        )
        for expiry in worth_saying(expiries(book.register, book.library), today)
    )


def _said(at: str, site: Site) -> str:
    try:
        return moment(datetime.fromisoformat(at), site.time_zone)
    except ValueError:
        return plain(at)


def _space(site: Site) -> Iterator[Alarm]:
    devices = set()
    for folder in (site.held, site.state):
        try:
            device, free = folder.stat().st_dev, shutil.disk_usage(folder).free
        except OSError:
            continue  # an absent folder is the daemon's to tell
        if device in devices:
            continue
        devices.add(device)
        place = plain(str(folder), 200)
        if free < FILLING_BYTES:
            says = f"THE DISK IS FILLING: {free / 1e6:.0f} MB free at {place}"
            yield Alarm(says, "make room: with too little nothing new is taken in")
        if is_read_only(folder):
            yield Alarm(f"THE DISK TAKES NO CHANGES: {place}", MOUNT_ANEW)
