"""What `database.py` asks of a kind of database, and which kind an address means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from sqlalchemy import make_url
from sqlalchemy.exc import ArgumentError

from gatekeeper.history import trouble
from gatekeeper.history.sqlite_store import SqliteStore
from gatekeeper.history_settings import SERVER, is_on_server

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy import Engine

    from gatekeeper.history.interface import HistoryAwayError, Wait
    from gatekeeper.history.migrations import Goal

_SQLITE = "sqlite:///"


class Store(Protocol):
    """A place that holds one history."""

    name: str
    """What people call it in messages."""

    writable: bool
    """Whether it may be begun and written."""

    goal: Goal
    """The version that it is led to."""

    kept: str
    """Where the copy lies that was made before an upgrade; empty without one."""

    @property
    def unfilled(self) -> str:
        """Why an earlier program began it and did not fill it from the job folders; else empty."""
        ...

    def is_filled(self) -> None:
        """Take to note that it holds by now what the job folders tell."""
        ...

    def open(self, now: datetime) -> tuple[Engine, str]:
        """Return an engine, and why the history must be begun anew ("" where it need not)."""
        ...

    def set_aside(self, now: datetime, why: str) -> str:
        """Move a damaged history out of the way, whole; return in words what happened."""
        ...

    def check_still_there(self) -> None:
        """Raise `HistoryAwayError` where what was opened is no longer what the address leads to."""
        ...

    def let_go(self, engine: Engine, *, is_sound: bool) -> None:
        """Close the engine; `is_sound` says whether all went well until now."""
        ...

    def explain(self, error: Exception) -> HistoryAwayError:
        """Return a driver's error in words."""
        ...

    def is_passing(self, error: Exception) -> bool:
        """Whether the connection is sound in spite of the error: locked, or the disk full."""
        ...

    def copy_to(self, engine: Engine, target: Path) -> None:
        """Write a consistent, durable copy to a new file."""
        ...


def store_for(
    url: str,
    *,
    base: Path,
    wait: Wait,
    writable: bool,
    password_file: str | None = None,
    may_upgrade: bool = False,
) -> Store:
    """Return the store that an address means. A relative path counts from `base`."""
    if url.startswith(_SQLITE):
        # Taken as it stands: a question mark or a percent sign may be part of a folder's name.
        path = url.removeprefix(_SQLITE)
        if path not in {"", ":memory:"}:
            return SqliteStore(base / path, lock_s=wait.lock_s, writable=writable)
    try:
        address = make_url(url)
    except (ArgumentError, ValueError) as error:
        raise trouble.no_address() from error
    if not is_on_server(url):
        raise trouble.no_such_kind(address.render_as_string(hide_password=True))
    try:
        from gatekeeper.history.postgres_store import PostgresStore  # noqa: PLC0415 -- an extra
    except ImportError as error:
        raise trouble.no_driver(str(error)) from error
    return PostgresStore(
        address.set(drivername=SERVER[0].removesuffix("://")),
        password_file=base / password_file if password_file else None,
        wait=wait,
        writable=writable,
        may_upgrade=may_upgrade,
    )
