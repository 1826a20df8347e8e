"""Whether the history is sound and complete."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from gatekeeper.doctor.interface import Answer, broken, look, ok
from gatekeeper.filing.disk import Disk
from gatekeeper.history import HistoryAwayError, NoHistoryYetError
from gatekeeper.history_settings import is_on_server
from gatekeeper.record.ledger import OUTBOX
from gatekeeper.record.outbox import EVENT
from gatekeeper.site import MARK
from gatekeeper.telling.waiting_list import FOLDER, WaitingList
from gatekeeper.upkeep.copies import BACKUPS, day_of
from gatekeeper.wording import counted, plain
from gatekeeper.workshop import history_url

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gatekeeper.doctor.interface import Ward
    from gatekeeper.history.health import Health

_SLACK = timedelta(minutes=10)
"""So far ahead of the clock an entry may be: two machines are never quite at one."""

_OLD_COPY = timedelta(days=2)
"""A machine that is switched off at night catches its copy up in the morning."""

_FEW = 20
"""Verdicts that may be on their way to other software."""

_KEEP = "somebody changed the history: keep it as it is and ask who"


def history(ward: Ward) -> Iterator[Answer]:
    """Look into the history; the daemon gates without it, and catches up."""
    from gatekeeper.history.health import look_over  # noqa: PLC0415 -- loads the database library

    site = ward.site
    try:
        health = look_over(
            history_url(site),
            base=site.root,
            site=site.mark,
            clock=ward.around.clock,
            is_deep=ward.around.is_deep,
            password_file=site.settings.history_password_file,
        )
    except NoHistoryYetError:
        yield ok("history", "not begun yet")
    except HistoryAwayError as error:
        yield broken("history", error.what, error.do or "jobs are judged and filed without it")
    else:
        yield from _found(ward, health)


def _found(ward: Ward, health: Health) -> Iterator[Answer]:
    counts = health.counts
    if health.damage:
        do = "stop the daemon, move the file away, start it: it is told again from the job folders"
        yield broken("history", f"the file is damaged: {plain(health.damage, 200)}", do)
    else:
        yield ok("history", f"{counted(counts.approved, 'job')} approved, {counts.held} held")
    if health.flaw:
        yield broken("audit chain", health.flaw, _KEEP)
    else:
        how_far = "unbroken" if ward.around.is_deep else "its end holds; --deep walks all of it"
        yield ok("audit chain", how_far)
    yield from _in_the_future(ward, health)


def _in_the_future(ward: Ward, health: Health) -> Iterator[Answer]:
    now = ward.around.clock.now()
    if health.newest and datetime.fromisoformat(health.newest.at) > now + _SLACK:
        says = f"the clock stands before the newest entry of the history, of {health.newest.at}"
        yield broken("clock", says, "set the clock; ages of film and meters are judged by it")


def backups(ward: Ward) -> Iterator[Answer]:
    """Look how old the newest copy of the history is, where site.yaml asks for copies."""
    settings, today = ward.site.settings, ward.around.clock.now().date()
    if settings.upkeep.backup_at is None or is_on_server(settings.history):
        return  # a database server has backups of its own
    names = Disk().names(ward.site.state / BACKUPS)
    newest = max(filter(None, map(day_of, names)), default=None)
    begun = datetime.fromtimestamp((ward.site.root / MARK).stat().st_mtime, UTC).date()
    if today - (newest or begun) <= _OLD_COPY:
        yield ok("backup", f"the newest is of {newest}" if newest else "the first is still to come")
        return
    says = f"the newest copy of the history is of {newest}" if newest else "no copy of the history"
    do = "its reason is in the log: journalctl -u gatekeeper@SITE -p warning"
    yield look("backup", says, f"{do}; by hand: gatekeeper history backup FILE")


def telling(ward: Ward) -> Iterator[Answer]:
    """Look for verdicts that other software was not told of."""
    waiting = WaitingList(Disk(), ward.site.state / FOLDER)
    late, given_up = len(waiting.tickets()), len(waiting.aside())
    if late > _FEW:
        do = "run the command of `tell` in site.yaml by hand, and see what it says"
        yield look("telling", f"{counted(late, 'verdict')} not told to other software", do)
    if given_up:
        do = f"they lie in state/{FOLDER}/ as JSON: hand them over by hand, then remove them"
        yield look("telling", f"{counted(given_up, 'verdict')} given up", do)


def outbox(ward: Ward) -> Iterator[Answer]:
    """Look for verdicts and events that the history has not been told."""
    names = Disk().names(ward.site.state / OUTBOX)
    events = sum(EVENT in name for name in names)
    if names:
        says = counted(len(names) - events, "verdict")
        says += f" and {counted(events, 'event')}" if events else ""
        says += " not told to the history yet"
        yield look("history", says, "the daemon tells it as soon as the history can be used")
