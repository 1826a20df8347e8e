"""Puts the real parts together: a site with its book, its ledger and its rounds."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gatekeeper import __version__
from gatekeeper.care.curve_store import CurveStore
from gatekeeper.care.signal_watch import SignalWatch
from gatekeeper.filing.disk import Disk
from gatekeeper.history import SHORT_WAIT, Wait, open_history, read_history
from gatekeeper.record.ledger import OUTBOX, Ledger
from gatekeeper.room import declarations_of, situation_of
from gatekeeper.rounds.round import Rounds
from gatekeeper.telling.event import event_of
from gatekeeper.telling.teller import Teller
from gatekeeper.telling.waiting_list import FOLDER, WaitingList

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.history.query import Lookup
    from gatekeeper.history.record import History
    from gatekeeper.room import Book
    from gatekeeper.site import Site
    from gatekeeper.verdict import Verdict

PROGRAM = f"gatekeeper {__version__}"
USUAL_HISTORY = "history.sqlite"


def history_url(site: Site) -> str:
    """Return the address of the site's history."""
    return site.settings.history or f"sqlite:///{site.state / USUAL_HISTORY}"


def history_of(
    site: Site,
    clock: Clock,
    wait: Wait | None = None,
    *,
    may_upgrade: bool = False,
    begins: bool = True,
) -> History:
    """Return the site's history for reading and writing; it is opened at its first use."""
    return open_history(
        history_url(site),
        base=site.root,
        site=site.mark,
        clock=clock,
        program=PROGRAM,
        wait=wait or Wait(),
        password_file=site.settings.history_password_file,
        may_upgrade=may_upgrade,
        begins=begins,
    )


def lookup_of(site: Site, clock: Clock, wait: Wait | None = None, *, room: str = "") -> Lookup:
    """Return the site's history for looking only; or that of another room in the same database."""
    return read_history(
        history_url(site),
        base=site.root,
        site=room or site.mark,
        clock=clock,
        wait=wait or SHORT_WAIT,
        password_file=site.settings.history_password_file,
    )


def teller_of(site: Site, disk: Disk) -> Teller | None:
    """Return what tells other software of verdicts, None where the site names none."""
    settings = site.settings.tell
    waiting = WaitingList(disk, site.state / FOLDER)
    return Teller(settings, waiting, site.root) if settings else None


def _announcer(site: Site, disk: Disk) -> Callable[[Verdict, Path, str], None]:
    """Return what lays each filed verdict in for the teller."""
    waiting = WaitingList(disk, site.state / FOLDER)

    def announce(verdict: Verdict, folder: Path, filed: str) -> None:
        waiting.put(event_of(verdict, folder.absolute(), site=site.mark, filed=filed))

    return announce if site.settings.tell else lambda *_: None


def signal_watch(site: Site, history: Lookup, clock: Clock, disk: Disk) -> SignalWatch:
    """Return what follows the control charts of a site."""
    return SignalWatch(history, CurveStore(site.state, disk).accepted, clock)


def rounds_of(
    site: Site,
    clock: Clock,
    book: Callable[[], Book],
    *,
    settle_s: float | None = None,
    disk: Disk | None = None,
    current: Callable[[], Site] | None = None,
    wait: Wait | None = None,
    heard: Callable[[Path], object] = lambda _: None,
) -> Rounds:
    """Return what goes round the drop folders of a site.

    Parameters
    ----------
    book : rules and register as they are now; asked at each use, so that an edit is taken up
    settle_s : rest before a file is taken, in place of the site's own
    current : the site as site.yaml says it now, where somebody follows its edits
    wait : patience with the history
    heard : what was heard from a drop folder so far, None where nobody listens to it
    """
    disk = disk or Disk()
    site_now = current or (lambda: site)
    ledger = Ledger(
        history=history_of(site, clock, wait or SHORT_WAIT),
        disk=disk,
        site=site.mark,
        root=site.root,
        outbox=site.state / OUTBOX,
        declarations=lambda: declarations_of(site_now(), book().profiles),
        now=clock.now,
        announce=_announcer(site, disk),
    )
    charts = signal_watch(site, ledger.history, clock, disk)
    return Rounds(
        site,
        disk,
        clock,
        ledger,
        lambda: replace(situation_of(site_now(), book()), charts=charts),
        settle_s=site.settings.settle_s if settle_s is None else settle_s,
        heard=heard,
    )
