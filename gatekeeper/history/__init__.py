"""What was judged, kept in a database: an index of what was filed, never in the path of a decision.

The job folders are the record; this can be deleted and made again from them. Importing the package
is cheap: the database library is loaded by `open_history` and `read_history` only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gatekeeper.history.interface import (
    SHORT_WAIT,
    EventKind,
    FiledSheet,
    FiledVerdict,
    HistoryAwayError,
    NoHistoryYetError,
    OlderHistoryError,
    Reading,
    UnrecordableError,
    Wait,
    as_read,
    job_key,
)

if TYPE_CHECKING:
    from pathlib import Path

    from gatekeeper.clock import Clock
    from gatekeeper.history.query import Lookup
    from gatekeeper.history.record import History

__all__ = [
    "SHORT_WAIT",
    "EventKind",
    "FiledSheet",
    "FiledVerdict",
    "HistoryAwayError",
    "NoHistoryYetError",
    "OlderHistoryError",
    "Reading",
    "UnrecordableError",
    "Wait",
    "as_read",
    "job_key",
    "open_history",
    "read_history",
]


def open_history(
    url: str,
    *,
    base: Path,
    site: str,
    clock: Clock,
    program: str,
    wait: Wait | None = None,
    password_file: str | None = None,
    may_upgrade: bool = False,
    begins: bool = True,
) -> History:
    """Return the history for reading and writing; it is opened, or begun, at its first use.

    Parameters
    ----------
    url : such as sqlite:///state/history.sqlite, where a relative path counts from `base`, or
        postgresql+psycopg://gatekeeper@server/plates
    base : the site's folder
    site : the name that every row carries
    clock : tells the moment of an event, and how long a broken history was left alone
    program : name and version, kept with what is written
    wait : how long to wait for a lock, and how long to leave a broken history alone
    password_file : of the account on a server; a relative path counts from `base`
    may_upgrade : whether a shared history of an earlier version is upgraded, which is for a person
        to decide; a file of one's own is copied and upgraded in any case
    begins : whether a chain is begun where there is none; not for what brings a chain of its own

    Raises
    ------
    HistoryAwayError : the URL names no database that this version speaks
    """
    from gatekeeper.history.database import Database  # noqa: PLC0415 -- loads the library only when used
    from gatekeeper.history.record import History  # noqa: PLC0415
    from gatekeeper.history.stores import store_for  # noqa: PLC0415

    wait = wait or Wait()
    store = store_for(
        url,
        base=base,
        wait=wait,
        writable=True,
        password_file=password_file,
        may_upgrade=may_upgrade,
    )
    database = Database(store, site=site, clock=clock, program=program, wait=wait, begins=begins)
    return History(database)


def read_history(
    url: str,
    *,
    base: Path,
    site: str,
    clock: Clock,
    wait: Wait | None = None,
    password_file: str | None = None,
) -> Lookup:
    """Return the history for looking only: nothing is begun, mended, migrated or set aside.

    Parameters are those of `open_history`. Where no history was begun, the first question raises
    `NoHistoryYetError`.
    """
    from gatekeeper.history.database import Database  # noqa: PLC0415
    from gatekeeper.history.query import Lookup  # noqa: PLC0415
    from gatekeeper.history.stores import store_for  # noqa: PLC0415

    wait = wait or Wait()
    store = store_for(url, base=base, wait=wait, writable=False, password_file=password_file)
    return Lookup(Database(store, site=site, clock=clock, program="", wait=wait))
